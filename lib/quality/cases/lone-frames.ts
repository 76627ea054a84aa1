import { sampleMean } from "../../core/numerics/descriptive-statistics";
import type { Case, CaseLine, Signal } from "./case";
import { streamRole } from "./stream-kind";

/** Frames of a stream inside its limits after which it is over. A choice, no source. */
const OVER_FRAMES = 25;

/**
 * Cases of frames outside a limit in streams that have no baseline yet: nothing says from where they changed, nor why, but somebody
 * has to look. One a stream and side, as long as not 25 frames of it lie between.
 *
 * @param signals - of no other case, in the order of the frames
 */
export function loneFrames(line: CaseLine, signals: readonly Signal[]): Case[] {
  const groups: Signal[][] = [];
  for (const signal of signals) {
    const own = groups.find((group) => {
      const last = group.at(-1);
      return (
        last !== undefined &&
        last.feature === signal.feature &&
        last.sign === signal.sign &&
        framesBetween(line, signal, last.place) < OVER_FRAMES
      );
    });
    if (own === undefined) groups.push([signal]);
    else own.push(signal);
  }
  return groups.flatMap((group) => loneCase(line, group) ?? []);
}

/** Frames with a value of a stream from behind a place up to another one. */
function framesBetween(line: CaseLine, { feature, place }: Pick<Signal, "feature" | "place">, from: number): number {
  const values = line.streams.find((stream) => stream.feature === feature)?.values ?? [];
  return values.slice(from + 1, place + 1).filter((value) => value !== null).length;
}

function loneCase(line: CaseLine, signals: readonly Signal[]): Case | null {
  const [first, last] = [signals[0], signals.at(-1)];
  const role = first === undefined ? null : streamRole(first.feature);
  if (first === undefined || last === undefined || role === null) return null;
  const stream = line.streams.find(({ feature }) => feature === first.feature);
  const middle =
    stream === undefined || stream.lower === null || stream.upper === null ? 0 : (stream.lower + stream.upper) / 2;
  const moved = signals.flatMap(({ place }) => {
    const value = stream?.values[place] ?? null;
    return value === null ? [] : [(value - middle) / role.perUnit];
  });
  const change = { value: moved.length === 0 ? 0 : sampleMean(moved), unit: role.unit, each: "change" } as const;
  const now = line.frames.length - 1;
  return {
    line: line.line,
    operation: line.operation,
    members: [{ feature: first.feature, by: "signal", sign: first.sign, change }],
    signals,
    kind: "frames",
    since: { place: first.place, earliest: first.place, latest: first.place },
    until: framesBetween(line, { ...first, place: now }, last.place) < OVER_FRAMES ? null : last.place,
    change,
    lead: first.feature,
    towards: null,
    causes: [{ cause: "unknown", subject: null, lnOdds: 0, evidence: [] }],
    answer: { kind: "unknown" },
    outside: signals.map(({ place }) => place),
    framesToLimit: null,
    backAgain: null,
  };
}
