import type { OffsetVector } from "@/lib/core/capability/offset-capability";
import type { Stability } from "@/lib/core/capability/process-capability";
import type { FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { FeatureName } from "@/lib/core/metrology/features";
import { stabilityOf } from "@/lib/core/capability/stability-of";
import { baselinePlaces, failsIn } from "@/lib/quality/baseline";
import { CHARTED_STREAMS, type ChartedStream } from "@/lib/quality/control-limits";
import type { ToldJudgement } from "@/lib/quality/judge-frame";
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
import type { FileInspection } from "@/lib/schemas/measurement-file/file-inspection";

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

type Group = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly drawing: ShellDrawing;
  readonly serials: string[];
  readonly batches: (string | null)[];
  readonly times: (number | null)[];
  /** Time to sort by: that of the frame, or of the last frame before it in the file. */
  readonly order: number[];
  /** A bit for each characteristic and seat in which the frame does not conform. */
  readonly failing: number[];
  readonly values: number[][];
};

/** A copy of a text that does not keep the piece of the file alive from which it was cut. */
function detached(text: string): string {
  return Buffer.from(text, "utf8").toString("utf8");
}

/** Features that are kept beside the charted ones: the extremes that capability looks at, and the offset vector. */
const BESIDE = [
  "ds.bore.smallest",
  "ds.bore.largest",
  "nds.bore.smallest",
  "nds.bore.largest",
  "width.smallest",
  "width.largest",
  "offset.12",
  "offset.3",
] as const satisfies readonly FeatureName[];

const KEPT: readonly Pick<ChartedStream, "feature" | "absolute">[] = [
  ...CHARTED_STREAMS,
  ...BESIDE.map((feature) => ({ feature, absolute: false })),
];

function keptColumn(group: Group, feature: string): readonly number[] {
  return group.values[KEPT.findIndex((kept) => kept.feature === feature)] ?? [];
}

const SUBJECTS: readonly StreamSubject[] = [
  ...CHARTED_STREAMS.map(({ feature }) => streamSubject(feature)),
  OFFSET_SUBJECT,
];

function failingBit({ characteristic, seat }: StreamSubject): number {
  return 1 << SUBJECTS.findIndex((one) => one.characteristic === characteristic && one.seat === seat);
}

function failingBits({ characteristics }: ToldJudgement): number {
  let bits = 0;
  for (const subject of SUBJECTS) if (failsIn(characteristics, subject)) bits |= failingBit(subject);
  return bits;
}

/** The part of a stream that is the same for every stream of a group, with the frames that have a value. */
type Series = { readonly group: Group; readonly frames: readonly number[]; readonly baselineFrames: number | null };

/** Places of the baseline in a series, and how many frames were left out of it. */
function baselineOf(
  { group, frames, baselineFrames }: Series,
  subject: StreamSubject,
): { places: number[]; leftOut: number } {
  const bit = failingBit(subject);
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
    const column = keptColumn(group, statistic === "mean" ? `${head}.${end}` : stream.feature);
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
  const column = keptColumn(group, stream.feature);
  const values = valuesOf(column, frames);
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

export type StreamCollector = {
  readonly add: (inspection: FileInspection, charted: FrameMeasurement, judgement: ToldJudgement) => void;
  readonly finish: (baselineFrames: number | null) => FileStream[];
};

/** Gathers the values of all streams of a file, frame by frame. */
export function collectStreams(): StreamCollector {
  const groups = new Map<string, Group>();
  const batchNames = new Map<string, string>();

  function groupOf({ texts, drawing }: FileInspection): Group {
    const key = [texts.line ?? "", texts.operation ?? "", drawing.key].join("\u0000");
    let group = groups.get(key);
    if (!group) {
      const [line, operation] = [texts.line ?? null, texts.operation ?? null];
      const values = KEPT.map((): number[] => []);
      group = { line, operation, drawing, serials: [], batches: [], times: [], order: [], failing: [], values };
      groups.set(key, group);
    }
    return group;
  }

  function batchName(batch: string | undefined): string | null {
    if (batch === undefined) return null;
    const known = batchNames.get(batch);
    if (known === undefined) batchNames.set(detached(batch), detached(batch));
    return known ?? batch;
  }

  function add(inspection: FileInspection, charted: FrameMeasurement, judgement: ToldJudgement): void {
    const group = groupOf(inspection);
    group.serials.push(detached(inspection.serial));
    group.batches.push(batchName(inspection.texts.batch));
    group.times.push(inspection.measuredAt);
    group.order.push(inspection.measuredAt ?? group.order.at(-1) ?? -Infinity);
    group.failing.push(failingBits(judgement));
    for (const [place, { feature, absolute }] of KEPT.entries()) {
      const { value } = charted.features[feature];
      // NaN stands for no value in these columns; it never leaves them.
      group.values[place]?.push(value === null ? Number.NaN : absolute ? Math.abs(value) : value);
    }
  }

  function finish(baselineFrames: number | null): FileStream[] {
    return [...groups.values()].flatMap((group) => {
      const byTime = group.order.map((_, place) => place);
      byTime.sort((a, b) => {
        const [ta = 0, tb = 0] = [group.order[a], group.order[b]];
        return ta === tb ? a - b : ta < tb ? -1 : 1;
      });
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
    });
  }

  return { add, finish };
}
