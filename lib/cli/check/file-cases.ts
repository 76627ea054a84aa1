import { featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { CharacteristicName } from "@/lib/core/metrology/shell-drawing";
import { caseSignals } from "@/lib/quality/alarm/case-signals";
import type { Case, CaseFrame, CaseLine, CaseStream, LabelName } from "@/lib/quality/cases/case";
import { FEWEST_BASELINE } from "@/lib/quality/cases/score-streams";
import { gatherCases } from "@/lib/quality/cases/gather-cases";
import { streamRole } from "@/lib/quality/cases/stream-kind";
import { type AlarmedStream, ZERO_BETWEEN_SHIFTS_MM } from "@/lib/quality/alarm/run-line";
import { type AlarmedGroup, alarmsOfFile } from "./file-alarms";
import { FILE_LABELS, type FileGroup, KEPT_COLUMNS } from "./file-groups";

/** A case of a file with the frames of its line. */
export type FileCase = { readonly found: Case; readonly serials: readonly string[] };

/** Frames further apart begin another shift. Common practice, no source. */
const SHIFT_GAP_MS = 4 * 3_600_000;

function shiftsOf({ group, order }: AlarmedGroup): (string | null)[] {
  let shift = 0;
  let last: number | null = null;
  return order.map((frame) => {
    const time = group.times[frame] ?? null;
    if (time === null) return null;
    if (last !== null && time - last > SHIFT_GAP_MS) shift += 1;
    last = time;
    return String(shift);
  });
}

function labelsOf(group: FileGroup, frame: number, shift: string | null): CaseFrame["labels"] {
  const labels: Partial<Record<LabelName, string>> = {};
  for (const label of FILE_LABELS) {
    const text = group.labels[label][frame] ?? null;
    if (text !== null) labels[label] = text;
  }
  return shift === null ? labels : { ...labels, shift };
}

/** Frames that show a stream as it was before anything changed. */
function usualFrames(stream: AlarmedStream | undefined): readonly number[] {
  if (stream === undefined) return [];
  return stream.before.length >= FEWEST_BASELINE ? stream.before : stream.baseline;
}

function caseLine(alarmed: AlarmedGroup): CaseLine {
  const { group, order, streams, columns } = alarmed;
  const shifts = shiftsOf(alarmed);
  const frames = order.map((frame, place): CaseFrame => ({
    serial: group.serials[frame] ?? "",
    labels: labelsOf(group, frame, shifts[place] ?? null),
    outside: streams.flatMap(({ stream }): readonly FeatureName[] => {
      if (!columns.isOutside(place, stream)) return [];
      return [stream.key === "offset" ? "coaxiality" : stream.key];
    }),
  }));
  const caseStreams = KEPT_COLUMNS.flatMap((feature): CaseStream[] => {
    const role = streamRole(feature);
    const column = columns.column(feature);
    if (role === null || column.every(Number.isNaN)) return [];
    const own = streams.find(({ stream }) => stream.key === (role.kind === "offset" ? "offset" : feature));
    // The ovals have no alarm of their own: they have the baseline of the ovality.
    const beside = streams.find(({ stream }) => stream.characteristic === "ovality" && stream.seat === role.seat);
    const guarded = own === undefined || role.kind === "offset" ? null : columns.guarded(own.stream);
    return [
      {
        feature,
        values: column.map((value) => (Number.isNaN(value) ? null : value)),
        baseline: usualFrames(own ?? beside).filter((place) => !Number.isNaN(column[place] ?? Number.NaN)),
        isForm: own?.stream.kind === "form",
        wander: role.kind === "bore" ? ZERO_BETWEEN_SHIFTS_MM : 0,
        lower: guarded?.lower ?? null,
        upper: guarded?.upper ?? null,
      },
    ];
  });
  const { line, operation } = group;
  return { line, operation, frames, streams: caseStreams, events: [], zeroChecks: [], closed: {}, ownCauses: [] };
}

/** Characteristics and seats that moved, each once, the one that moved most first; the ovals speak for ovality. */
export function caseCharacteristics({ members }: Case): { name: CharacteristicName; seat: Seat | null }[] {
  const named = new Map<string, { name: CharacteristicName; seat: Seat | null }>();
  for (const { feature } of members) {
    const role = streamRole(feature);
    const { characteristic, seat } =
      role?.kind === "oval"
        ? { characteristic: "ovality" as const, seat: role.seat }
        : featureNamed(feature as FeatureName);
    named.set(`${characteristic} ${seat ?? ""}`, { name: characteristic, seat });
  }
  return [...named.values()];
}

/**
 * The cases of a file: every change that its streams tell, with its likely causes.
 *
 * @param budget - false cases per 1,000 frames of all streams together, > 0
 */
export function casesOfFile(groups: readonly FileGroup[], budget: number): FileCase[] {
  return alarmsOfFile(groups, budget).flatMap((alarmed) => {
    const signals = caseSignals(alarmed.streams, alarmed.columns);
    if (signals.length === 0) return [];
    const serials = alarmed.order.map((frame) => alarmed.group.serials[frame] ?? "");
    return gatherCases(caseLine(alarmed), signals).map((found) => ({ found, serials }));
  });
}
