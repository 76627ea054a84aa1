import { featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import { toolLife, type FramesLeft } from "@/lib/core/control/tool-life/tool-life";
import type { Estimate } from "@/lib/core/errors";
import { startsStretch, streamFinding, type StreamFinding } from "@/lib/quality/stream-finding";
import { streamSuspects, type Suspect } from "@/lib/quality/stream-suspects";
import type { StreamEvent } from "@/lib/server/drift/charted-frames";
import type { StreamPage } from "@/lib/server/drift/queries";

/** What the points of a stream say, computed once for all parts of its page. Indices count the points. */
export type StreamReading = {
  /** Number in the stream of the first point. */
  readonly firstNumber: number;
  readonly numberOf: (index: number) => number;
  readonly finding: StreamFinding;
  readonly suspects: readonly Suspect[];
  /** What was done about when the change began, with how many frames lie between. */
  readonly near: { readonly event: StreamEvent; readonly framesBefore: number } | null;
  readonly toolLife: Estimate<FramesLeft> | null;
  /** Tool in use, where frames carry one. */
  readonly tool: string | null;
  readonly framesPerDay: number;
};

/** Frames round a change in which an event may have to do with it. */
function isBoreMean(feature: FeatureName): boolean {
  const { characteristic, statistic } = featureNamed(feature);
  return characteristic === "bore" && statistic === "mean";
}

const NEAR_FRAMES = 15;

/** Index of the first point at or after a time. */
export const indexAt = (stream: StreamPage, time: number): number => {
  const index = stream.points.findIndex((point) => point.at >= time);
  return index < 0 ? stream.points.length : index;
};

function nearestEvent(stream: StreamPage, finding: StreamFinding): StreamReading["near"] {
  if (finding.kind !== "moved" && finding.kind !== "off-baseline") return null;
  const [earliest, latest, since] =
    finding.kind === "moved"
      ? [finding.earliest, finding.latest, finding.since]
      : [finding.from, finding.from, finding.from];
  const near = stream.events
    .map((event) => ({ event, index: indexAt(stream, Date.parse(event.at)) }))
    .filter(({ index }) => index >= earliest - NEAR_FRAMES && index <= latest + 1)
    .toSorted((a, b) => Math.abs(a.index - since) - Math.abs(b.index - since))[0];
  return near === undefined ? null : { event: near.event, framesBefore: Math.max(0, since - near.index) };
}

/** First points of each new tool, by what the frames themselves carry. */
function toolChanges(stream: StreamPage): number[] {
  return stream.points.flatMap((point, index) => {
    const before = stream.points[index - 1]?.tool;
    return index > 0 && point.tool !== null && before !== point.tool ? [index] : [];
  });
}

function lifeOf(stream: StreamPage): Estimate<FramesLeft> | null {
  const { tolerance, feature, points } = stream;
  if (tolerance === null || !isBoreMean(feature) || points.length === 0) return null;
  const { lower, upper, uncertainty } = tolerance;
  const { framesLeft } = toolLife({
    values: points.map((point) => point.value),
    toolChanges: toolChanges(stream),
    limits: {
      lower: lower === null ? null : lower + uncertainty,
      upper: upper === null ? null : upper - uncertainty,
    },
  });
  return framesLeft;
}

function perDay(stream: StreamPage): number {
  const days = new Set(stream.points.map((point) => Math.floor(point.at / 86_400_000)));
  return days.size === 0 ? 0 : stream.points.length / days.size;
}

export function readStream(stream: StreamPage): StreamReading {
  const firstNumber = stream.total - stream.points.length + 1;
  const starts = stream.events
    .filter((event) => startsStretch(stream.feature, event.kind))
    .map((event) => indexAt(stream, Date.parse(event.at)));
  const finding = streamFinding(
    stream.points.map((point) => point.value),
    starts,
    stream.limits?.center ?? null,
  );
  const suspects =
    finding.kind === "moved"
      ? streamSuspects(stream.points.slice(finding.from), finding.since - finding.from, NEAR_FRAMES)
      : [];
  return {
    firstNumber,
    numberOf: (index) => firstNumber + index,
    finding,
    suspects,
    near: nearestEvent(stream, finding),
    toolLife: lifeOf(stream),
    tool: stream.points.at(-1)?.tool ?? null,
    framesPerDay: perDay(stream),
  };
}
