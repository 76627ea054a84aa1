import "server-only";
import { featureNamed, type FeatureName } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { shiftsOf } from "@/lib/quality/cases/shifts-of";
import { CHARTED_STREAMS, streamValue } from "@/lib/quality/control-limits";
import type { WhyStream } from "@/lib/quality/why/what-stands-out";
import type { WhyFactor, WhyFrame } from "@/lib/quality/why/why-reading";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { personColumns } from "../db/columns/person";
import { streamColumns } from "../db/columns/stream";
import { supplierColumns } from "../db/columns/supplier";
import { orNull, type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { getReferenceData, type ReferenceData } from "../evidence/reference-data";
import { type FrameGroup, streamOf } from "./charted-frames";
import { toleranceOf } from "./stream-tolerance";

/** Frames of a line that are compared at most, and of each line where all streams are looked at together. */
export const MOST_COMPARED = 5000;
const OF_EACH_LINE = 1000;

const labelled = together(
  inspectionColumns("i", ["features", "tool", "fixture", "gauges", "gaugeKeys", "planRevisionId"]),
  inspectionColumns("i", { measuredAt: "measuredAt" }),
  frameColumns("f", ["serial", "mould"]),
  supplierColumns("s", { supplier: "name" }),
  orNull(personColumns("p", { inspector: "name" })),
);
type LabelledRow = RowOf<typeof labelled>;

/** Days of a comparison, as moments; without them the newest frames. */
export type WhySpan = { readonly from?: Date | undefined; readonly to?: Date | undefined; readonly frames?: number };

async function readLabelled(plantId: string, group: FrameGroup, span: WhySpan): Promise<LabelledRow[]> {
  const { lineId, operationId, drawingId } = group;
  const { rows } = await getPool().query<LabelledRow>(sql`
    select ${labelled} from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    left join person p on p.plant_id = i.plant_id and p.id = i.inspector_id
    where i.plant_id = ${plantId} and i.line_id = ${lineId} and i.operation_id = ${operationId}
      and i.drawing_id = ${drawingId} and i.ordinal = 1 and ${notWithdrawn}
      and (${span.from ?? null}::timestamptz is null or i.measured_at >= ${span.from ?? null})
      and (${span.to ?? null}::timestamptz is null or i.measured_at <= ${span.to ?? null})
    order by i.measured_at desc, i.id desc limit ${Math.min(span.frames ?? MOST_COMPARED, MOST_COMPARED)}`);
  return rows.reverse();
}

/** Which gauges give a characteristic. */
function gaugeKindOf(feature: FeatureName): "bore" | "sweep" | "face" | "width" {
  switch (featureNamed(feature).characteristic) {
    case "bore":
    case "ovality":
    case "taper":
      return "bore";
    case "coaxiality":
    case "tilt":
      return "sweep";
    case "face run-out":
      return "face";
    case "width":
      return "width";
  }
}

/** Places of the first reading of each kind in each plan, looked up once. */
function gaugeFinder({ plans }: ReferenceData, kind: string) {
  const places = new Map<string, number>();
  return ({ planRevisionId, gauges, gaugeKeys }: LabelledRow): string | undefined => {
    const place =
      places.get(planRevisionId) ?? plans.get(planRevisionId)?.names.findIndex((name) => name.kind === kind) ?? -1;
    places.set(planRevisionId, place);
    return gaugeKeys[gauges[place] ?? -1];
  };
}

type Shifted = LabelledRow & { readonly shiftAt: number };

function withShifts(rows: readonly LabelledRow[]): Shifted[] {
  const shifts = shiftsOf(rows.map(({ measuredAt }) => measuredAt.getTime()));
  const starts = new Map<string | null, number>();
  return rows.map((row, at) => {
    const shift = shifts[at] ?? null;
    const shiftAt = starts.get(shift) ?? row.measuredAt.getTime();
    starts.set(shift, shiftAt);
    return { ...row, shiftAt };
  });
}

const known = <T extends object>(labels: T) =>
  Object.fromEntries(Object.entries(labels).filter(([, label]) => label !== null && label !== undefined)) as {
    [Name in keyof T]?: string;
  };

function framesOf(
  rows: readonly Shifted[],
  feature: FeatureName,
  reference: ReferenceData,
  more: { readonly line?: string; readonly middle?: number } = {},
): WhyFrame[] {
  const stream = streamOf(feature);
  const gaugeOf = gaugeFinder(reference, gaugeKindOf(feature));
  const { line, middle = 0 } = more;
  return rows.flatMap((row) => {
    const value = streamValue(stream, row.features);
    if (value === null) return [];
    const { serial, measuredAt, shiftAt, inspector, fixture, mould, tool, supplier } = row;
    const labels = known({ inspector, gauge: gaugeOf(row), fixture, mould, tool, supplier, line });
    return [{ serial, at: measuredAt.getTime(), shiftAt, value: value - middle, labels }];
  });
}

const headColumns = together(
  streamColumns("st", ["id", "lineId", "operationId", "drawingId", "feature"]),
  lineColumns("l", { line: "key", lineName: "name" }),
  operationColumns("o", { operation: "key", operationName: "name" }),
);
export type WhyHead = RowOf<typeof headColumns> & { readonly drawing: ShellDrawing };

async function readHeads(plantId: string, wanted: { readonly line?: string | undefined }): Promise<WhyHead[]> {
  const { rows } = await getPool().query<WhyHead>(sql`
    select ${headColumns}, (select r.content from drawing_revision r where r.plant_id = st.plant_id
      and r.drawing_id = st.drawing_id and r.state = 'released' order by r.released_at desc limit 1) as drawing
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    where st.plant_id = ${plantId} and st.points > 0 and (${wanted.line ?? null}::text is null or l.key = ${wanted.line ?? null})
    order by l.key, o.position, st.feature, st.id limit 2000`);
  const order = CHARTED_STREAMS.map(({ feature }) => feature);
  const place = ({ feature }: WhyHead) => order.indexOf(feature);
  return rows.toSorted((a, b) => groupOf(a).localeCompare(groupOf(b)) || place(a) - place(b));
}

/** Names a line, operation and drawing among all. */
export const groupOf = ({ line, operation, drawing }: Pick<WhyHead, "line" | "operation" | "drawing">): string =>
  `${line} ${operation} ${drawing.key}`;

/** All streams of a plant, or of a line, with their newest frames and what those were made and measured with. */
export async function readWhyStreams(
  viewer: Viewer,
  wanted: { readonly line?: string | undefined } = {},
): Promise<{ readonly heads: readonly WhyHead[]; readonly streams: readonly WhyStream[] }> {
  assertMay(viewer, "drift.view");
  const heads = await readHeads(viewer.plantId, wanted);
  const reference = await getReferenceData(viewer.plantId);
  const rowsOf = new Map<string, readonly Shifted[]>();
  for (const head of heads)
    if (!rowsOf.has(groupOf(head)))
      rowsOf.set(groupOf(head), withShifts(await readLabelled(viewer.plantId, head, { frames: OF_EACH_LINE })));
  const streams = heads.map((head) => ({
    id: head.id,
    group: groupOf(head),
    feature: head.feature,
    frames: framesOf(rowsOf.get(groupOf(head)) ?? [], head.feature, reference),
  }));
  return { heads, streams };
}

/** A size of several lines is compared as its distance from the middle of its own limits. */
function middleOf({ drawing, feature }: WhyHead): number {
  const { lower = null, upper = null } = toleranceOf(drawing, feature) ?? {};
  return lower === null || upper === null ? 0 : (lower + upper) / 2;
}

export type WhyFrames = {
  readonly head: WhyHead;
  /** Streams of the same frames. */
  readonly beside: readonly Pick<WhyHead, "id" | "feature">[];
  readonly frames: readonly WhyFrame[];
  /** Values are distances from the middle of the limits, since lines of different sizes are compared. */
  readonly areDistances: boolean;
};

/**
 * The frames of one stream with what they were made and measured with; to compare lines, those of the same stream of all lines at the
 * same operation.
 *
 * @throws AppError not-found
 */
export async function readWhyFrames(
  viewer: Viewer,
  streamId: string,
  factor: WhyFactor,
  span: WhySpan,
): Promise<WhyFrames> {
  assertMay(viewer, "drift.view");
  const heads = await readHeads(viewer.plantId, {});
  const head = heads.find(({ id }) => id === streamId);
  if (head === undefined) throw new AppError("not-found", "There is no such stream. Choose one under Drift, Why.");
  const reference = await getReferenceData(viewer.plantId);
  const beside = heads.filter((one) => groupOf(one) === groupOf(head)).map(({ id, feature }) => ({ id, feature }));
  const compared =
    factor === "line"
      ? heads.filter(({ feature, operation }) => feature === head.feature && operation === head.operation)
      : [head];
  const areDistances = compared.length > 1 && compared.every((one) => middleOf(one) !== 0);
  const frames: WhyFrame[] = [];
  for (const one of compared) {
    const rows = withShifts(await readLabelled(viewer.plantId, one, span));
    const more = { line: one.line, ...(areDistances ? { middle: middleOf(one) } : {}) };
    frames.push(...framesOf(rows, one.feature, reference, more));
  }
  return { head, beside, frames, areDistances };
}
