import { stabilityOf } from "@/lib/core/capability/stability-of";
import type { FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import type { Estimate } from "@/lib/core/errors";
import { featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import { CAPABILITY_FRAMES } from "@/lib/quality/stream-capability";
import { startsStretch } from "@/lib/quality/stream-finding";
import { flaggedFrames, streamStanding, type StreamStanding } from "@/lib/quality/stream-standing";
import { WATCHED_FRAMES, watchTool } from "@/lib/quality/watch-forecast";
import type { StreamPage, StreamPoint } from "@/lib/server/drift/queries";

/** How a stream stands, computed once for all parts of its page, from the same newest frames whatever is shown. */
export type StreamReading = {
  /** Number in the stream of the first point shown, and of any of them. */
  readonly firstNumber: number;
  readonly numberOf: (index: number) => number;
  /** Number in the stream of a frame that `standing` names. */
  readonly numberOfRecent: (index: number) => number;
  readonly standing: StreamStanding;
  /** Case of each flagged inspection; null where it lies outside and belongs to none. */
  readonly flags: ReadonlyMap<string, number | null>;
  readonly toolLife: Estimate<FramesLeft> | null;
  /** Tool in use, where frames carry one. */
  readonly tool: string | null;
  readonly framesPerDay: number;
};

function isBoreMean(feature: FeatureName): boolean {
  const { characteristic, statistic } = featureNamed(feature);
  return characteristic === "bore" && statistic === "mean";
}

/** Index of the first point at or after a time. */
export function indexAt(points: readonly Pick<StreamPoint, "at">[], time: number): number {
  const index = points.findIndex((point) => point.at >= time);
  return index < 0 ? points.length : index;
}

/** First points of each new tool, by what the frames themselves carry. */
function toolChanges(points: readonly StreamPoint[]): number[] {
  return points.flatMap((point, index) => {
    const before = points[index - 1]?.tool;
    return index > 0 && point.tool !== null && before !== point.tool ? [index] : [];
  });
}

/** Places at which a new stretch begins: by what was entered, and by what the frames themselves carry. */
function startsOf({ events, feature }: StreamPage, points: readonly StreamPoint[]): number[] {
  const entered = events
    .filter(({ kind }) => startsStretch(feature, kind))
    .map(({ at }) => indexAt(points, Date.parse(at)));
  const seen = startsStretch(feature, "reamer changed") ? toolChanges(points) : [];
  return [...new Set([...entered, ...seen])].sort((a, b) => a - b);
}

type ToolReading = {
  /** What is left of the tool in use; null where nothing wears, or the tool was changed after the newest frame. */
  readonly life: Estimate<FramesLeft> | null;
  /** The same where the front of Drift watches it, too: a tool that is known, with a trend. */
  readonly watched: FramesLeft | null;
};

function readTool(stream: StreamPage, framesADay: number): ToolReading {
  const { tolerance, feature, events } = stream;
  const watched = stream.recent.slice(-WATCHED_FRAMES);
  const last = watched.at(-1);
  const isChanged = events.some(({ kind, at }) => kind === "reamer changed" && Date.parse(at) > (last?.at ?? 0));
  if (tolerance === null || !isBoreMean(feature) || last === undefined || isChanged)
    return { life: null, watched: null };
  const { lower, upper, uncertainty } = tolerance;
  const limits = {
    lower: lower === null ? null : lower + uncertainty,
    upper: upper === null ? null : upper - uncertainty,
  };
  const { life, forecast } = watchTool({
    values: watched.map(({ value }) => value),
    tools: watched.map(({ tool }) => tool),
    limits,
    framesADay,
    isChanged,
  });
  return { life, watched: life?.ok === true && forecast !== null ? life.value : null };
}

function perDay(points: readonly StreamPoint[]): number {
  const days = new Set(points.map((point) => Math.floor(point.at / 86_400_000)));
  return days.size === 0 ? 0 : points.length / days.size;
}

function stabilityBy({ recent, limits }: StreamPage) {
  if (limits === null) return { verdict: "not-judged" } as const;
  const looked = recent.slice(-CAPABILITY_FRAMES);
  const beyond = looked.filter(
    ({ value }) => value > (limits.upper ?? Infinity) || value < (limits.lower ?? -Infinity),
  ).length;
  return stabilityOf(beyond, looked.length);
}

export function readStream(stream: StreamPage): StreamReading {
  const { total, points, recent, cases, feature, limits } = stream;
  const firstNumber = total - points.length + 1;
  const firstRecent = total - recent.length + 1;
  const framesPerDay = perDay(recent);
  const { life, watched } = readTool(stream, framesPerDay);
  const standing = streamStanding({
    feature,
    frames: recent,
    cases,
    starts: startsOf(stream, recent),
    baseline: limits?.center ?? null,
    left: watched,
    framesPerDay,
    stability: stabilityBy(stream),
  });
  return {
    firstNumber,
    numberOf: (index) => firstNumber + index,
    numberOfRecent: (index) => firstRecent + index,
    standing,
    flags: flaggedFrames(standing, recent, cases),
    toolLife: life,
    tool: recent.at(-1)?.tool ?? null,
    framesPerDay,
  };
}
