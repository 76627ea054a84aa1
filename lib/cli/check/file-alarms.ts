import { alarmBudget } from "@/lib/core/control/alarm/alarm-budget";
import { ALARM_STREAMS, type AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { type AlarmedStream, runLine, UNKNOWN_WEAR_SD } from "@/lib/quality/alarm/run-line";
import type { CaseColumns } from "@/lib/quality/cases/case-streams";
import { OFFSET_SUBJECT } from "@/lib/quality/stream-evaluation";
import { type FileGroup, framesInOrder, keptColumn, subjectBit } from "./file-groups";

/** False cases that a file may have per 1,000 frames, all streams together. */
export const DEFAULT_FILE_BUDGET = 0.5;
const BUDGET_FRAMES = 1000;
/** Frames of the starting stretch of a stream: a file has no baseline of its own. */
const FILE_BASELINE_FRAMES = 50;
/** Part of the budget that the one test of the whole file takes. */
const WHOLE_SHARE = 0.1;
const LARGEST_ALPHA = 0.01;

/** A group with its frames in the order of measuring and what each of its streams says. Places count `order`. */
export type AlarmedGroup = {
  readonly group: FileGroup;
  /** Frames of the group in the order of measuring. */
  readonly order: readonly number[];
  readonly streams: readonly AlarmedStream[];
  readonly columns: CaseColumns;
};

function bitOf({ key, characteristic, seat }: AlarmStream): number {
  return subjectBit(key === "offset" ? OFFSET_SUBJECT : { characteristic, seat });
}

/** The tilt of the datum seat is the offset again: what it judges speaks there. */
function outsideBits(stream: AlarmStream): number {
  if (stream.statistic === "range") return 0;
  return stream.key === "offset" ? bitOf(stream) | subjectBit({ characteristic: "tilt", seat: "ds" }) : bitOf(stream);
}

function guardedOf(group: FileGroup, stream: AlarmStream): { lower: number | null; upper: number | null } {
  const limits = group.drawing.characteristics.find(({ name }) => name === stream.characteristic);
  const guard = group.guards.get(bitOf(stream));
  if (limits === undefined || guard === undefined) return { lower: null, upper: null };
  return {
    lower: limits.lower === null ? null : limits.lower + guard,
    upper: limits.upper === null ? null : limits.upper - guard,
  };
}

/** Key of a stream among those of all groups. */
function shareKey(group: number, stream: AlarmStream): string {
  return `${group} ${stream.key}`;
}

/**
 * Runs the alarm scheme over every stream of a file.
 *
 * @param budget - false cases per 1,000 frames of all streams together, > 0
 */
export function alarmsOfFile(groups: readonly FileGroup[], budget: number): AlarmedGroup[] {
  const frames = groups.reduce((sum, { serials }) => sum + serials.length, 0);
  if (frames === 0) return [];
  const present = groups.flatMap((group, place) =>
    ALARM_STREAMS.flatMap((stream) => {
      const column = keptColumn(group, stream.key === "offset" ? "offset.12" : stream.key);
      const count = column.reduce((sum, value) => (Number.isNaN(value) ? sum : sum + 1), 0);
      return count === 0 ? [] : [{ id: shareKey(place, stream), frames: (count * BUDGET_FRAMES) / frames }];
    }),
  );
  if (present.length === 0) return [];
  const shares = new Map(
    alarmBudget(present, (1 - WHOLE_SHARE) * budget).streams.map(({ id, runLength }) => [id, runLength]),
  );
  const wholeAlpha = Math.min(LARGEST_ALPHA, (WHOLE_SHARE * budget * frames) / BUDGET_FRAMES / present.length);
  return groups.map((group, place) => {
    const order = framesInOrder(group);
    const columns = columnsOf(group, order);
    const streams = runLine(columns, {
      runLength: (stream) => shares.get(shareKey(place, stream)) ?? Infinity,
      baselineFrames: FILE_BASELINE_FRAMES,
      wholeAlpha,
      unknownWearSd: UNKNOWN_WEAR_SD,
    });
    return { group, order, columns, streams };
  });
}

/** Frames that the tool of each frame has cut in this file. */
function toolAges(tools: readonly (string | null)[]): number[] {
  let age = 0;
  let before: string | null = null;
  return tools.map((tool) => {
    age = tool !== null && before !== null && tool !== before ? 1 : age + 1;
    before = tool ?? before;
    return age;
  });
}

function columnsOf(group: FileGroup, order: readonly number[]): CaseColumns {
  const known = new Map<string, readonly number[]>();
  const ages = toolAges(order.map((frame) => group.labels.tool[frame] ?? null));
  return {
    frames: order.length,
    column(feature) {
      const before = known.get(feature);
      if (before !== undefined) return before;
      const kept = keptColumn(group, feature);
      const column = order.map((frame) => kept[frame] ?? Number.NaN);
      known.set(feature, column);
      return column;
    },
    guarded: (stream) => guardedOf(group, stream),
    isFailing: (frame, stream) => ((group.failing[order[frame] ?? 0] ?? 0) & bitOf(stream)) !== 0,
    isOutside: (frame, stream) => ((group.outside[order[frame] ?? 0] ?? 0) & outsideBits(stream)) !== 0,
    boreReadings: group.boreReadings,
    toolAge: (frame) => ages[frame] ?? frame + 1,
  };
}
