import type { OffsetVector } from "@/lib/core/capability/offset-capability";
import type { Stability } from "@/lib/core/capability/process-capability";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { FeatureName } from "@/lib/core/metrology/features";
import { stabilityOf } from "@/lib/core/capability/stability-of";
import { baselinePlaces } from "@/lib/quality/baseline";
import { CHARTED_STREAMS, type ChartedStream } from "@/lib/quality/control-limits";
import {
  CAPABILITY_FRAMES,
  offsetStreamCapability,
  streamCapability,
  type StreamCapability,
} from "@/lib/quality/stream-capability";
import {
  evaluateOffsetStream,
  evaluateStream,
  OFFSET_SUBJECT,
  type StreamEvaluation,
  streamSubject,
  type StreamSubject,
} from "@/lib/quality/stream-evaluation";
import { type FileGroup, framesInOrder, keptColumn, subjectBit } from "./file-groups";

/** One stream of a file: a characteristic on one line, drawing and operation, in the order of measuring. */
export type FileStream = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly drawing: ShellDrawing;
  readonly subject: StreamSubject;
  readonly values: readonly number[];
  /** Frame of each value: place in the group's `serials` and `batches`. */
  readonly frames: readonly number[];
  readonly serials: readonly string[];
  readonly batches: readonly (string | null)[];
  readonly times: readonly (number | null)[];
  readonly evaluation: StreamEvaluation;
  /** Frames before the end of the baseline that are not in it since they do not conform themselves. */
  readonly leftOut: number;
  /** Null for streams whose number carries no limit (the spread within the bore). */
  readonly capability: StreamCapability | null;
};

/** A column as it is charted: of a signed feature its size. */
function chartedColumn(group: FileGroup, { feature, absolute }: ChartedStream): readonly number[] {
  const column = keptColumn(group, feature);
  return absolute ? column.map(Math.abs) : column;
}

/** The part of a stream that is the same for every stream of a group, with the frames that have a value. */
type Series = { readonly group: FileGroup; readonly frames: readonly number[]; readonly baselineFrames: number | null };

/** Places of the baseline in a series, and how many frames were left out of it. */
function baselineOf(
  { group, frames, baselineFrames }: Series,
  subject: StreamSubject,
): { places: number[]; leftOut: number } {
  const bit = subjectBit(subject);
  const failing = new Set<number>();
  for (const [place, frame] of frames.entries()) if (((group.failing[frame] ?? 0) & bit) !== 0) failing.add(place);
  const places = baselinePlaces(frames.length, (place) => failing.has(place), baselineFrames ?? undefined);
  const end = places.at(-1) ?? 0;
  return { places, leftOut: [...failing].filter((place) => place < end).length };
}

/** Stability over the last frames, which is what capability looks at. */
function stability({ limits }: StreamEvaluation, values: readonly number[]): Stability {
  const last = values.slice(-CAPABILITY_FRAMES);
  const beyond = last.filter(
    (value) => value > (limits?.upper ?? Infinity) || value < (limits?.lower ?? -Infinity),
  ).length;
  return stabilityOf(beyond, last.length);
}

/** Capability of the characteristic that a stream stands for. */
function capabilityOf(series: Series, stream: ChartedStream, stable: Stability): StreamCapability | null {
  const { group, frames } = series;
  const { characteristic, seat, statistic } = streamSubject(stream.feature);
  const limits = group.drawing.characteristics.find(({ name }) => name === characteristic);
  if (!limits || statistic === "range") return null;
  const head = seat === null ? characteristic : `${seat}.${characteristic}`;
  const of = (end: "smallest" | "largest") => {
    const column = statistic === "mean" ? keptColumn(group, `${head}.${end}`) : chartedColumn(group, stream);
    return frames.slice(-CAPABILITY_FRAMES).map((frame) => column[frame] ?? 0);
  };
  return streamCapability({
    lower: limits.lower,
    upper: limits.upper,
    againstLower: of("smallest"),
    againstUpper: of("largest"),
    characteristic,
    stability: stable,
  });
}

/** Values of a column in the order of the frames: the column itself where that is its order. */
function valuesOf(column: readonly number[], frames: readonly number[]): readonly number[] {
  if (frames.length === column.length && frames.every((frame, place) => frame === place)) return column;
  return frames.map((frame) => column[frame] ?? 0);
}

function chartedStream(series: Series, stream: ChartedStream): FileStream {
  const { group, frames } = series;
  const subject = streamSubject(stream.feature);
  const values = valuesOf(chartedColumn(group, stream), frames);
  const { places, leftOut } = baselineOf(series, subject);
  const evaluation = evaluateStream(stream, values, places);
  const { line, operation, drawing, serials, batches, times } = group;
  const capability = capabilityOf(series, stream, stability(evaluation, values));
  return {
    line,
    operation,
    drawing,
    subject,
    values,
    frames,
    serials,
    batches,
    times,
    evaluation,
    leftOut,
    capability,
  };
}

function offsetStream(series: Series): FileStream {
  const { group, frames } = series;
  const [twelve, three] = [keptColumn(group, "offset.12"), keptColumn(group, "offset.3")];
  const offsets = frames.map((frame): OffsetVector => [twelve[frame] ?? 0, three[frame] ?? 0]);
  const { places, leftOut } = baselineOf(series, OFFSET_SUBJECT);
  const { evaluation, values } = evaluateOffsetStream(offsets, places);
  const { line, operation, drawing, serials, batches, times } = group;
  const zoneUm = drawing.characteristics.find(({ name }) => name === "coaxiality")?.upper ?? null;
  const capability = offsetStreamCapability(offsets.slice(-CAPABILITY_FRAMES), zoneUm, stability(evaluation, values));
  return {
    line,
    operation,
    drawing,
    subject: OFFSET_SUBJECT,
    values,
    frames,
    serials,
    batches,
    times,
    evaluation,
    leftOut,
    capability,
  };
}

/** All streams of a group, charted. */
export function streamsOfGroup(group: FileGroup, baselineFrames: number | null): FileStream[] {
  const byTime = framesInOrder(group);
  const inOrder = byTime.every((frame, place) => frame === place);
  const seriesOf = (feature: FeatureName): Series => {
    const column = keptColumn(group, feature);
    // A long file in the order of time with every value there is charted as it is, without a copy.
    if (inOrder && !column.some(Number.isNaN)) return { group, baselineFrames, frames: byTime };
    return { group, baselineFrames, frames: byTime.filter((frame) => !Number.isNaN(column[frame] ?? Number.NaN)) };
  };
  const charted = CHARTED_STREAMS.map((stream) => ({ stream, series: seriesOf(stream.feature) }));
  const aligned = seriesOf("offset.12");
  return [
    ...charted
      .filter(({ series }) => series.frames.length > 0)
      .map(({ stream, series }) => chartedStream(series, stream)),
    ...(aligned.frames.length > 0 ? [offsetStream(aligned)] : []),
  ];
}
