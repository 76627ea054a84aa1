import "server-only";
import { AppError } from "@/lib/errors";
import { streamValue, type ChartedStream, type ControlLimits } from "@/lib/quality/control-limits";
import { type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { FEATURE_NAMES, featureBeside, featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import { baselineOf, liesOutside } from "@/lib/quality/baseline";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import { FINDING_FRAMES } from "@/lib/quality/stream-finding";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { frameColumns } from "../db/columns/frame";
import { limitSetColumns } from "../db/columns/limit-set";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { signalColumns } from "../db/columns/signal";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { readChartedFrames, readEvents, streamOf, type ChartedFrame, type StreamEvent } from "./charted-frames";
import { candidatesFor, readBaselineRows } from "./baseline-frames";
import { casesOfFeature, readGroupCases, type StreamCase } from "./stream-cases";
import { toleranceOf, type StreamTolerance } from "./stream-tolerance";

export type StreamPoint = Omit<ChartedFrame, "features" | "reasons"> & {
  readonly value: number;
  /** Spread within the bore, where the stream is the mean of one. */
  readonly spread: number | null;
  /** It lies outside the guarded limit of what the stream is about, by what was measured. */
  readonly isOutside: boolean;
};

/** A run rule that a point met while run rules alarmed; closed history. */
export type EarlierSignal = {
  readonly id: string;
  readonly rule: string;
  readonly inspectionId: string;
  readonly serial: string;
  readonly at: string;
  readonly side: "upper" | "lower" | null;
  readonly cause: string | null;
  readonly assignedBy: string | null;
};

export type StreamLimitSet = Omit<ControlLimits, "method"> & {
  /** How they were computed, in the words in which it was kept. */
  readonly method: string;
  readonly id: string;
  readonly version: number;
  readonly baselineFrom: string;
  readonly baselineTo: string;
  readonly createdAt: string;
  readonly approvedAt: string | null;
  readonly approvedBy: string | null;
};

export type StreamPage = {
  readonly id: string;
  readonly lineId: string;
  readonly line: string;
  readonly lineName: string;
  readonly operation: string;
  readonly operationName: string;
  readonly drawing: ShellDrawing;
  readonly feature: FeatureName;
  readonly kind: ChartedStream["kind"];
  readonly tolerance: StreamTolerance | null;
  /** Frames of the stream; the last point is the newest of them. */
  readonly total: number;
  readonly points: readonly StreamPoint[];
  /** The newest frames, as many whatever is shown: what the stream is said to do follows from them. */
  readonly recent: readonly StreamPoint[];
  /** Frames left out of chart, limits and change points: a reading behind the value was odd. Oldest first. */
  readonly leftOut: readonly { readonly serial: string; readonly at: number }[];
  readonly limits: StreamLimitSet | null;
  /** Values of the baseline that the limits in force come from, oldest first. */
  readonly baseline: readonly number[];
  /** Limits of the spread within the bore, shown beside the mean of a bore. */
  readonly spreadLimits: StreamLimitSet | null;
  /** Cases that are about it, oldest first: the open ones, and the newest closed ones. */
  readonly cases: readonly StreamCase[];
  /** The newest signals of before cases, newest first. */
  readonly earlierSignals: readonly EarlierSignal[];
  /** What was done since the oldest frame that is shown or looked at. */
  readonly events: readonly StreamEvent[];
  /** Other streams of the same frames, and whether a case about them is open. */
  readonly siblings: readonly { readonly id: string; readonly feature: FeatureName; readonly hasCase: boolean }[];
};

const headColumns = together(
  streamColumns("st", ["id", "lineId", "operationId", "drawingId", "feature", "limitSetId"]),
  streamColumns("st", { total: "points" }),
  lineColumns("l", { line: "key", lineName: "name" }),
  operationColumns("o", { operation: "key", operationName: "name" }),
);

export type StreamHead = RowOf<typeof headColumns> & { readonly drawing: ShellDrawing };

/** @throws AppError not-found */
export async function readStreamHead(plantId: string, id: string): Promise<StreamHead> {
  const { rows } = await getPool().query<StreamHead>(sql`
    select ${headColumns},
      (select r.content from drawing_revision r where r.plant_id = st.plant_id and r.drawing_id = st.drawing_id
        and r.state = 'released' order by r.released_at desc limit 1) as drawing
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    where st.plant_id = ${plantId} and st.id::text = ${id}`);
  const head = rows[0];
  if (!head) throw new AppError("not-found", "There is no such stream. Choose one under Drift.");
  return head;
}

const limitColumns = limitSetColumns("l", [
  "id",
  "version",
  "center",
  "sigma",
  "lower",
  "upper",
  "rangeCenter",
  "rangeUpper",
  "frames",
  "provisional",
  "baselineFrom",
  "baselineTo",
  "createdAt",
  "approvedAt",
]);
type LimitsRow = RowOf<typeof limitColumns> & Pick<StreamLimitSet, "kind" | "method" | "average" | "approvedBy">;

export async function readLimits(plantId: string, id: string): Promise<StreamLimitSet | null> {
  const { rows } = await getPool().query<LimitsRow>(sql`
    select ${limitColumns}, l.method ->> 'kind' as kind, l.method ->> 'text' as method, l.method -> 'average' as average,
      ${nameThen("p", "l.approved_at")} as "approvedBy"
    from limit_set l left join person p on p.plant_id = l.plant_id and p.id = l.approved_by_id
    where l.plant_id = ${plantId} and l.id = ${id}`);
  const row = rows[0];
  if (!row) return null;
  return {
    ...row,
    baselineFrom: row.baselineFrom.toISOString(),
    baselineTo: row.baselineTo.toISOString(),
    createdAt: row.createdAt.toISOString(),
    approvedAt: row.approvedAt?.toISOString() ?? null,
  };
}

const signalled = together(
  signalColumns("s", ["id", "rule", "inspectionId", "detail", "cause"]),
  signalColumns("s", { at: "measuredAt" }),
  frameColumns("f", ["serial"]),
  orNull(personColumns("p", { assignedBy: "name" })),
);
type SignalRow = RowOf<typeof signalled> & { readonly detail: Pick<EarlierSignal, "side"> };

/** Earlier signals that are shown. */
const MOST_EARLIER = 500;

async function readEarlierSignals(plantId: string, streamId: string): Promise<EarlierSignal[]> {
  const { rows } = await getPool().query<SignalRow>(sql`
    select ${signalled}
    from signal s
    join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    left join person p on p.plant_id = s.plant_id and p.id = s.assigned_by_id
    where s.plant_id = ${plantId} and s.stream_id = ${streamId} and s.state <> 'overtaken'
    order by s.measured_at desc, s.id desc limit ${MOST_EARLIER}`);
  return rows.map(({ detail, at, ...row }) => ({ ...row, at: at.toISOString(), side: detail.side }));
}

const siblingColumns = streamColumns("st", ["id", "feature", "limitSetId"]);
type Sibling = RowOf<typeof siblingColumns>;

async function readSiblings(plantId: string, head: StreamHead): Promise<Sibling[]> {
  const { rows } = await getPool().query<Sibling>(sql`
    select ${siblingColumns} from stream st
    where st.plant_id = ${plantId} and st.line_id = ${head.lineId} and st.operation_id = ${head.operationId}
      and st.drawing_id = ${head.drawingId} and st.points > 0 order by st.feature`);
  return rows;
}

/** Most frames of a baseline that are read for its histogram. */
const BASELINE_FRAMES = 2000;

/** Values of the frames that the limits in force come from, as far as they still count, oldest first. */
async function readBaseline(plantId: string, head: StreamHead, limits: StreamLimitSet | null): Promise<number[]> {
  if (limits === null) return [];
  const rows = await readBaselineRows(getPool(), plantId, head, {
    from: new Date(limits.baselineFrom),
    to: new Date(limits.baselineTo),
    end: "newest",
    most: BASELINE_FRAMES,
  });
  const stream = streamOf(head.feature);
  const candidates = candidatesFor(rows, head.id, (features) => streamValue(stream, features));
  return baselineOf(candidates, streamSubject(head.feature), { size: BASELINE_FRAMES }).map(({ value }) => value);
}

/** The feature that stands beside another: the spread within the bore beside its mean. */
function spreadFeature(feature: FeatureName): FeatureName | null {
  return featureNamed(feature).statistic === "mean" ? featureBeside(feature, "range") : null;
}

export const MOST_FRAMES = 5000;

/**
 * One stream with its newest points, limits in force, cases and events.
 *
 * @param frames - how many of the newest frames are shown, at most 5,000
 * @throws AppError not-found
 */
export async function getStream(viewer: Viewer, id: string, frames: number = 200): Promise<StreamPage> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const head = await readStreamHead(plantId, id);
  const stream = streamOf(head.feature);
  const spread = spreadFeature(head.feature);
  const spreadPlace = spread === null ? -1 : FEATURE_NAMES.indexOf(spread);
  const shown = Math.min(Math.max(frames, 1), MOST_FRAMES);
  const read = await readChartedFrames(plantId, head, Math.max(shown, FINDING_FRAMES));
  const subject = streamSubject(head.feature);
  const isJudged = featureNamed(head.feature).statistic !== "range";
  const pointsOf = (rows: readonly ChartedFrame[]) =>
    rows.flatMap(({ features, reasons, ...frame }): StreamPoint[] => {
      const value = streamValue(stream, features);
      const isOutside = isJudged && liesOutside(reasons, subject);
      return value === null ? [] : [{ ...frame, value, spread: features[spreadPlace] ?? null, isOutside }];
    });
  const charted = read.slice(-shown);
  const points = pointsOf(charted);
  const recent = pointsOf(read.slice(-FINDING_FRAMES));
  const leftOut = charted.filter(({ features, odd }) => odd && streamValue(stream, features) === null);
  const from = new Date(Math.min(points[0]?.at ?? 0, recent[0]?.at ?? 0));
  const [limits, groupCases, earlierSignals, events, siblings] = await Promise.all([
    head.limitSetId === null ? null : readLimits(plantId, head.limitSetId),
    readGroupCases(plantId, head),
    readEarlierSignals(plantId, head.id),
    readEvents(plantId, head.lineId, from),
    readSiblings(plantId, head),
  ]);
  const open = groupCases.filter(({ state }) => state === "open");
  const spreadSet = siblings.find((one) => one.feature === spread)?.limitSetId ?? null;
  const [baseline, spreadLimits] = await Promise.all([
    readBaseline(plantId, head, limits),
    spreadSet === null ? null : readLimits(plantId, spreadSet),
  ]);
  const { lineId, line, lineName, operation, operationName, drawing, feature, total } = head;
  return {
    id: head.id,
    lineId,
    line,
    lineName,
    operation,
    operationName,
    drawing,
    feature,
    kind: stream.kind,
    tolerance: toleranceOf(drawing, feature),
    total,
    points,
    recent,
    leftOut: leftOut.map(({ serial, at }) => ({ serial, at })),
    limits,
    baseline,
    spreadLimits,
    cases: casesOfFeature(groupCases, feature),
    earlierSignals,
    events,
    siblings: siblings.map(({ id: siblingId, feature: name }) => ({
      id: siblingId,
      feature: name,
      hasCase: casesOfFeature(open, name).length > 0,
    })),
  };
}
