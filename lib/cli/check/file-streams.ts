import type { FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import type { FeatureName, ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { CHARTED_STREAMS, type ChartedStream } from "@/lib/quality/control-limits";
import {
  evaluateStream,
  type StreamEvaluation,
  streamSubject,
  type StreamSubject,
} from "@/lib/quality/stream-evaluation";
import { streamCapability, type StreamCapability } from "@/lib/quality/stream-capability";
import type { FileInspection } from "@/lib/schemas/measurement-file/read-measurement-file";

/** One stream of a file: a characteristic on one line, drawing and operation, in the order of measuring. */
export type FileStream = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly drawing: ShellDrawing;
  readonly stream: ChartedStream;
  readonly subject: StreamSubject;
  readonly values: readonly number[];
  /** Frame of each value: place in the group's `serials` and `batches`. */
  readonly frames: readonly number[];
  readonly serials: readonly string[];
  readonly batches: readonly (string | null)[];
  readonly times: readonly (number | null)[];
  readonly evaluation: StreamEvaluation;
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
  readonly values: number[][];
};

/** A copy of a text that does not keep the piece of the file alive from which it was cut. */
function detached(text: string): string {
  return Buffer.from(text, "utf8").toString("utf8");
}

/** Features that are kept beside the charted ones: every two-point size is judged, so capability looks at the extremes. */
const EXTREMES = [
  "ds.bore.smallest",
  "ds.bore.largest",
  "nds.bore.smallest",
  "nds.bore.largest",
  "width.smallest",
  "width.largest",
] as const satisfies readonly FeatureName[];

const KEPT: readonly Pick<ChartedStream, "feature" | "absolute">[] = [
  ...CHARTED_STREAMS,
  ...EXTREMES.map((feature) => ({ feature, absolute: false })),
];

function keptColumn(group: Group, feature: string): number[] {
  return group.values[KEPT.findIndex((kept) => kept.feature === feature)] ?? [];
}

/** Capability of the characteristic that a stream stands for. */
function capabilityOf(
  group: Group,
  stream: ChartedStream,
  frames: readonly number[],
  evaluation: StreamEvaluation,
): StreamCapability | null {
  const { characteristic, seat, statistic } = streamSubject(stream.feature);
  const limits = group.drawing.characteristics.find(({ name }) => name === characteristic);
  if (!limits || statistic === "range") return null;
  const head = seat === null ? characteristic : `${seat}.${characteristic}`;
  const of = (end: "smallest" | "largest") => {
    const column = keptColumn(group, statistic === "mean" ? `${head}.${end}` : stream.feature);
    return frames.map((frame) => column[frame] ?? 0);
  };
  const { lower, upper } = limits;
  const signals = evaluation.signals.length;
  return streamCapability({ lower, upper, againstLower: of("smallest"), againstUpper: of("largest"), signals });
}

export type StreamCollector = {
  readonly add: (inspection: FileInspection, charted: FrameMeasurement) => void;
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
      group = { line, operation, drawing, serials: [], batches: [], times: [], order: [], values };
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

  function add(inspection: FileInspection, charted: FrameMeasurement): void {
    const group = groupOf(inspection);
    group.serials.push(detached(inspection.serial));
    group.batches.push(batchName(inspection.texts.batch));
    group.times.push(inspection.measuredAt);
    group.order.push(inspection.measuredAt ?? group.order.at(-1) ?? -Infinity);
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
      const { line, operation, drawing, serials, batches, times } = group;
      return CHARTED_STREAMS.flatMap((stream, place): FileStream[] => {
        const column = group.values[place] ?? [];
        const frames = byTime.filter((frame) => !Number.isNaN(column[frame] ?? Number.NaN));
        if (frames.length === 0) return [];
        const values = frames.map((frame) => column[frame] ?? 0);
        const evaluation = evaluateStream(stream, values, baselineFrames === null ? {} : { baselineFrames });
        const subject = streamSubject(stream.feature);
        const capability = capabilityOf(group, stream, frames, evaluation);
        return [
          {
            line,
            operation,
            drawing,
            stream,
            subject,
            values,
            frames,
            serials,
            batches,
            times,
            evaluation,
            capability,
          },
        ];
      });
    });
  }

  return { add, finish };
}
