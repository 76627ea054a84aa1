import "server-only";
import { createHash } from "node:crypto";
import { CoreError } from "@/lib/core/errors";
import { FEATURE_NAMES, featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import type { Seat } from "@/lib/core/metrology/reading-name";
import type { CharacteristicName, ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { CHARTED_STREAMS, streamValue, type ChartedStream } from "@/lib/quality/control-limits";
import { type StreamBound } from "@/lib/quality/stream-capability";
import { estimateOffsetLimits, offsetT2 } from "@/lib/quality/stream-offset";
import type { Stability } from "@/lib/core/capability/process-capability";
import { stabilityOf } from "@/lib/core/capability/stability-of";
import { log } from "../base/log";
import { compute } from "../compute/compute";
import { getPool } from "../db/client";
import { limitSetColumns } from "../db/columns/limit-set";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { featuresHeld } from "./capability-queries";
import { offsetOf, readChartedFrames, type ChartedFrame, type FrameGroup } from "./charted-frames";
import { readOffsetBaseline } from "./offset-queries";
import { casesOfFeature, readGroupCases, stabilityBeside, type StreamCase } from "./stream-cases";
import { toleranceOf } from "./stream-tolerance";

export type JudgedSubject = { readonly name: CharacteristicName; readonly seat: Seat | null };

/** Computes the bound, or gives it where it is known; null where it was not ready in time. */
export type BoundComputation = () => Promise<StreamBound | null>;

const limitsNow = together(
  streamColumns("st", ["id", "feature", "limitSetId"]),
  orNull(limitSetColumns("l", ["lower", "upper"])),
);
type LimitsRow = RowOf<typeof limitsNow> & {
  readonly approvedFrom: Date | null;
  readonly approvedTo: Date | null;
};

const NOT_JUDGED: Stability = { verdict: "not-judged", because: "there are no control limits yet" };

async function readStreams(plantId: string, group: FrameGroup): Promise<ReadonlyMap<FeatureName, LimitsRow>> {
  const { rows } = await getPool().query<LimitsRow>(sql`
    select ${limitsNow},
      case when l.approved_at is not null then l.baseline_from end as "approvedFrom",
      case when l.approved_at is not null then l.baseline_to end as "approvedTo"
    from stream st left join limit_set l on l.plant_id = st.plant_id and l.id = st.limit_set_id
    where st.plant_id = ${plantId} and st.line_id = ${group.lineId} and st.operation_id = ${group.operationId}
      and st.drawing_id = ${group.drawingId}`);
  return new Map(rows.map((row) => [row.feature, row]));
}

/** The last bound of what a key names, kept as it is asked for; a calculation that was too late is begun anew by the next who asks. */
const known = new Map<string, StreamBound>();
const MOST_KNOWN = 2000;

function remember(key: string, bound: StreamBound): StreamBound {
  known.set(key, bound);
  if (known.size > MOST_KNOWN) known.delete(known.keys().next().value ?? "");
  return bound;
}

const underWay = new Map<string, Promise<StreamBound | null>>();

/** One calculation for all who ask at the same time. */
function computed(parts: readonly unknown[], work: () => Promise<StreamBound>): BoundComputation {
  const key = createHash("sha256").update(JSON.stringify(parts)).digest("hex");
  const begin = async (): Promise<StreamBound | null> => {
    try {
      return remember(key, await work());
    } catch (error) {
      if (error instanceof AppError && error.code === "unavailable") return null;
      if (error instanceof CoreError) return remember(key, { ok: false, because: { code: "not-computable" } });
      log.error("a bound of a stream was not computed", { error });
      return null;
    } finally {
      underWay.delete(key);
    }
  };
  return () => {
    const before = known.get(key);
    if (before !== undefined) return Promise.resolve(before);
    const going = underWay.get(key) ?? begin();
    underWay.set(key, going);
    return going;
  };
}

type GroupEvidence = {
  readonly frames: readonly ChartedFrame[];
  readonly cases: readonly StreamCase[];
  readonly drawing: ShellDrawing;
};

function boundOfStream(
  stream: ChartedStream,
  limits: LimitsRow | undefined,
  { frames, cases, drawing }: GroupEvidence,
): BoundComputation {
  const charted = frames.filter(({ features }) => streamValue(stream, features) !== null);
  const valuesOf = (feature: FeatureName) =>
    charted.flatMap(({ features }) => {
      const value = features[FEATURE_NAMES.indexOf(feature)] ?? null;
      return value === null ? [] : [stream.absolute ? Math.abs(value) : value];
    });
  const held = featuresHeld(stream.feature);
  const tolerance = toleranceOf(drawing, stream.feature);
  const beyond = charted.filter(({ features }) => {
    const value = streamValue(stream, features);
    return value !== null && (value > (limits?.upper ?? Infinity) || value < (limits?.lower ?? -Infinity));
  }).length;
  const input = {
    lower: tolerance?.lower ?? null,
    upper: tolerance?.upper ?? null,
    againstLower: valuesOf(held.lower),
    againstUpper: valuesOf(held.upper),
    characteristic: featureNamed(stream.feature).characteristic,
    stability: stabilityBeside(
      casesOfFeature(cases, stream.feature),
      limits === undefined || limits.limitSetId === null ? NOT_JUDGED : stabilityOf(beyond, charted.length),
    ),
  };
  return computed(["stream", input], () => compute("stream-bound", input));
}

async function boundOfOffset(
  plantId: string,
  group: FrameGroup,
  streams: ReadonlyMap<FeatureName, LimitsRow>,
  { frames, cases, drawing }: GroupEvidence,
): Promise<BoundComputation> {
  const offsets = frames.flatMap(({ features }) => {
    const offset = offsetOf(features);
    return offset === null ? [] : [offset];
  });
  const tilt = streams.get("nds.tilt");
  const baseline =
    tilt === undefined
      ? []
      : await readOffsetBaseline(plantId, {
          ...group,
          streamId: tilt.id,
          from: tilt.approvedFrom,
          to: tilt.approvedTo,
        });
  const limits = estimateOffsetLimits(baseline.map(({ offset }) => offset));
  const beyond = limits.ok ? offsets.filter((offset) => offsetT2(offset, limits.value) > limits.value.upper).length : 0;
  const stability = stabilityBeside(
    casesOfFeature(cases, "offset.12"),
    limits.ok ? stabilityOf(beyond, offsets.length) : NOT_JUDGED,
  );
  const zoneUm = drawing.characteristics.find(({ name }) => name === "coaxiality")?.upper ?? null;
  const input = { offsets, zoneUm, stability };
  return computed(["offset", input], () => compute("offset-bound", input));
}

/**
 * The upper bounds of the nonconforming fractions of a group's newest frames, one a characteristic and seat, each to be computed when
 * it is asked for: what they are computed from is read here. A bound is kept by what it rests on.
 *
 * @param most - how many of the newest frames
 */
export async function readStreamBounds(
  plantId: string,
  group: FrameGroup,
  drawing: ShellDrawing,
  { subjects, most }: { readonly subjects: readonly JudgedSubject[]; readonly most: number },
): Promise<readonly BoundComputation[]> {
  const [frames, streams, cases] = await Promise.all([
    readChartedFrames(plantId, group, most),
    readStreams(plantId, group),
    readGroupCases(plantId, group),
  ]);
  const evidence = { frames, cases, drawing };
  return Promise.all(
    subjects.map(({ name, seat }) => {
      if (name === "coaxiality") return boundOfOffset(plantId, group, streams, evidence);
      const stream = CHARTED_STREAMS.find(({ feature }) => {
        const { characteristic, seat: of, statistic } = featureNamed(feature);
        return characteristic === name && of === seat && statistic !== "range";
      });
      if (stream === undefined) throw new Error(`readStreamBounds: nothing is charted for ${name}`);
      return boundOfStream(stream, streams.get(stream.feature), evidence);
    }),
  );
}
