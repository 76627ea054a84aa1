import { sampleMean } from "../../core/numerics/descriptive-statistics";
import type { Case, CaseLine, CaseMember, Signal } from "./case";
import { streamRole } from "./stream-kind";

/** Frames of a stream inside its limits after which it is over. A choice, no source. */
const OVER_FRAMES = 25;

/**
 * Cases of frames outside a limit in streams that have no baseline yet: nothing says from where they changed, nor why, but somebody
 * has to look. What lies outside in the same frames is one case, and what goes on in a stream and side before 25 frames of it are
 * inside.
 *
 * @param signals - of no other case, in the order of the frames
 */
export function loneFrames(line: CaseLine, signals: readonly Signal[]): Case[] {
  let groups: Signal[][] = [];
  for (const signal of signals) {
    const own = groups.filter((group) => group.some((other) => isTogether(line, other, signal)));
    groups = [...groups.filter((group) => !own.includes(group)), [...own.flat(), signal]];
  }
  return groups
    .map((group) => group.toSorted((a, b) => a.place - b.place))
    .toSorted((a, b) => (a[0]?.place ?? 0) - (b[0]?.place ?? 0))
    .flatMap((group) => loneCase(line, group) ?? []);
}

/** Whether two signals are of one thing, the later one second. */
function isTogether(line: CaseLine, one: Signal, later: Signal): boolean {
  if (one.place === later.place) return true;
  return (
    one.feature === later.feature && one.sign === later.sign && framesBetween(line, later, one.place) < OVER_FRAMES
  );
}

/** Frames with a value of a stream from behind a place up to another one. */
function framesBetween(line: CaseLine, { feature, place }: Pick<Signal, "feature" | "place">, from: number): number {
  const values = line.streams.find((stream) => stream.feature === feature)?.values ?? [];
  return values.slice(from + 1, place + 1).filter((value) => value !== null).length;
}

/** How far frames of a stream lie from the middle of its limits. */
function memberOf(line: CaseLine, signals: readonly Signal[]): CaseMember | null {
  const [first] = signals;
  const role = first === undefined ? null : streamRole(first.feature);
  if (first === undefined || role === null) return null;
  const stream = line.streams.find(({ feature }) => feature === first.feature);
  const middle =
    stream === undefined || stream.lower === null || stream.upper === null ? 0 : (stream.lower + stream.upper) / 2;
  const moved = signals.flatMap(({ place }) => {
    const value = stream?.values[place] ?? null;
    return value === null ? [] : [(value - middle) / role.perUnit];
  });
  const change = { value: moved.length === 0 ? 0 : sampleMean(moved), unit: role.unit, each: "change" } as const;
  return { feature: first.feature, by: "signal", sign: first.sign, change };
}

function loneCase(line: CaseLine, signals: readonly Signal[]): Case | null {
  const bySide = new Map<string, Signal[]>();
  for (const signal of signals) {
    const name = `${signal.feature} ${signal.sign}`;
    bySide.set(name, [...(bySide.get(name) ?? []), signal]);
  }
  const members = [...bySide.values()].flatMap((own) => memberOf(line, own) ?? []);
  const [first, last, lead] = [signals[0], signals.at(-1), members[0]];
  if (first === undefined || last === undefined || lead === undefined) return null;
  const now = line.frames.length - 1;
  return {
    line: line.line,
    operation: line.operation,
    members,
    signals,
    kind: "frames",
    since: { place: first.place, earliest: first.place, latest: first.place },
    until: framesBetween(line, { ...last, place: now }, last.place) < OVER_FRAMES ? null : last.place,
    change: lead.change,
    lead: lead.feature,
    towards: null,
    causes: [{ cause: "unknown", subject: null, lnOdds: 0, evidence: [] }],
    answer: { kind: "unknown" },
    outside: [...new Set(signals.map(({ place }) => place))],
    framesToLimit: null,
    backAgain: null,
  };
}
