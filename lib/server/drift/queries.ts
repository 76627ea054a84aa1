import "server-only";
import { AppError } from "@/lib/errors";
import { CHARTED_STREAMS, streamValue, type ChartedStream, type ControlLimits } from "@/lib/quality/control-limits";
import { characteristicOf, type FeatureName, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

export type StreamListItem = {
  readonly id: string;
  readonly lineId: string;
  readonly line: string;
  readonly operation: string;
  readonly drawing: string;
  readonly feature: FeatureName;
  readonly points: number;
  readonly lastAt: string | null;
  readonly openSignals: number;
  readonly newestSignal: { readonly rule: string; readonly serial: string; readonly at: string } | null;
  readonly limits: "approved" | "not approved" | "provisional" | "none";
  /** The newest values, oldest first, for a small line. */
  readonly recent: readonly number[];
  readonly control: { readonly center: number; readonly lower: number | null; readonly upper: number | null } | null;
};

export const streamOf = (feature: string): ChartedStream => {
  const found = CHARTED_STREAMS.find((one) => one.feature === feature);
  if (!found) throw new AppError("not-found", `Nothing is charted for ${feature}.`);
  return found;
};

type ListRow = Omit<StreamListItem, "recent" | "limits" | "lastAt" | "newestSignal" | "control"> & {
  lastAt: Date | null;
  operationId: string;
  drawingId: string;
  approved: boolean | null;
  provisional: boolean | null;
  center: number | null;
  lower: number | null;
  upper: number | null;
  signalRule: string | null;
  signalSerial: string | null;
  signalAt: Date | null;
};

const RECENT_POINTS = 40;

type PointRow = {
  id: string;
  serial: string;
  at: number;
  features: (number | null)[];
  verdict: string;
  tool: string | null;
  fixture: string | null;
};

async function readRecent(
  plantId: string,
  group: { lineId: string; operationId: string; drawingId: string },
): Promise<PointRow[]> {
  const { rows } = await getPool().query<PointRow>(sql`
    select i.id, '' as serial, 0::float8 as at, i.features, i.verdict, i.tool, i.fixture from inspection i
    where i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
      and i.drawing_id = ${group.drawingId} and i.ordinal = 1
      and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
    order by i.measured_at desc, i.id desc limit ${RECENT_POINTS}`);
  return rows.reverse();
}

function limitsState(row: ListRow): StreamListItem["limits"] {
  if (row.center === null) return "none";
  if (row.approved) return "approved";
  return row.provisional ? "provisional" : "not approved";
}

/** Streams by urgency: those with open signals first, the newest signal first; quiet ones in the order of the drawing. */
export async function listStreams(
  viewer: Viewer,
  filter: { readonly line?: string | undefined } = {},
): Promise<readonly StreamListItem[]> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<ListRow>(sql`
    select st.id, st.line_id as "lineId", l.key as line, o.name as operation, d.key as drawing, st.feature, st.points,
      st.last_at as "lastAt", st.operation_id as "operationId", st.drawing_id as "drawingId",
      ls.approved_at is not null as approved, ls.provisional, ls.center, ls.lower, ls.upper,
      coalesce(open.n, 0)::int as "openSignals", newest.rule as "signalRule", newest.serial as "signalSerial", newest.at as "signalAt"
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    join drawing d on d.plant_id = st.plant_id and d.id = st.drawing_id
    left join limit_set ls on ls.plant_id = st.plant_id and ls.id = st.limit_set_id
    left join lateral (select count(*) as n from signal s where s.plant_id = st.plant_id and s.stream_id = st.id and s.state = 'open') open on true
    left join lateral (
      select s.rule, f.serial, s.measured_at as at from signal s
      join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
      join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where s.plant_id = st.plant_id and s.stream_id = st.id and s.state = 'open'
      order by s.measured_at desc, s.id limit 1) newest on true
    where st.plant_id = ${plantId} and st.points > 0 and (${filter.line ?? null}::text is null or l.key = ${filter.line ?? null})
    order by newest.at desc nulls last, l.key, st.feature`);
  const groups = new Map<string, Promise<PointRow[]>>();
  for (const row of rows) {
    const key = `${row.lineId} ${row.operationId} ${row.drawingId}`;
    if (!groups.has(key)) groups.set(key, readRecent(plantId, row));
  }
  return Promise.all(
    rows.map(async (row) => {
      const points = (await groups.get(`${row.lineId} ${row.operationId} ${row.drawingId}`)) ?? [];
      const stream = streamOf(row.feature);
      const { id, lineId, line, operation, drawing, feature, openSignals } = row;
      return {
        id,
        lineId,
        line,
        operation,
        drawing,
        feature,
        points: row.points,
        lastAt: row.lastAt?.toISOString() ?? null,
        openSignals,
        newestSignal:
          row.signalRule === null || row.signalSerial === null || row.signalAt === null
            ? null
            : { rule: row.signalRule, serial: row.signalSerial, at: row.signalAt.toISOString() },
        limits: limitsState(row),
        recent: points.flatMap((point) => streamValue(stream, point.features) ?? []),
        control: row.center === null ? null : { center: row.center, lower: row.lower, upper: row.upper },
      };
    }),
  );
}

export type StreamPoint = {
  readonly inspectionId: string;
  readonly serial: string;
  /** Corrected time of measurement, milliseconds since 1970. */
  readonly at: number;
  readonly value: number;
  readonly verdict: string;
};

export type StreamSignal = {
  readonly id: string;
  readonly rule: string;
  readonly inspectionId: string;
  readonly serial: string;
  readonly at: string;
  readonly state: string;
  readonly side: "upper" | "lower" | null;
  readonly points: number;
  readonly cause: string | null;
  readonly assignedBy: string | null;
};

export type StreamLimitSet = ControlLimits & {
  readonly id: string;
  readonly version: number;
  readonly baselineFrom: string;
  readonly baselineTo: string;
  readonly createdAt: string;
  readonly approvedAt: string | null;
  readonly approvedBy: string | null;
};

export type StreamEvent = {
  readonly id: string;
  readonly kind: string;
  readonly at: string;
  readonly text: string;
  readonly subject: string | null;
};

export type StreamPage = {
  readonly id: string;
  readonly lineId: string;
  readonly line: string;
  readonly lineName: string;
  readonly operation: string;
  readonly drawing: ShellDrawing;
  readonly feature: FeatureName;
  readonly kind: ChartedStream["kind"];
  /** Limits of the characteristic on the drawing, in the feature's unit; null where the feature carries none. */
  readonly tolerance: {
    readonly lower: number | null;
    readonly upper: number | null;
    readonly uncertainty: number;
  } | null;
  readonly total: number;
  readonly points: readonly StreamPoint[];
  readonly limits: StreamLimitSet | null;
  readonly signals: readonly StreamSignal[];
  readonly events: readonly StreamEvent[];
};

type HeadRow = {
  id: string;
  lineId: string;
  line: string;
  lineName: string;
  operation: string;
  operationId: string;
  drawingId: string;
  drawing: ShellDrawing;
  feature: FeatureName;
  total: number;
  limitSetId: string | null;
};

async function readPoints(plantId: string, head: HeadRow, frames: number): Promise<StreamPoint[]> {
  const stream = streamOf(head.feature);
  const { rows } = await getPool().query<PointRow>(sql`
    select i.id, f.serial, (extract(epoch from i.measured_at) * 1000)::float8 as at, i.features, i.verdict
    from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    where i.plant_id = ${plantId} and i.line_id = ${head.lineId} and i.operation_id = ${head.operationId}
      and i.drawing_id = ${head.drawingId} and i.ordinal = 1
      and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
    order by i.measured_at desc, i.id desc limit ${frames}`);
  return rows.reverse().flatMap(({ id, serial, at, features, verdict }) => {
    const value = streamValue(stream, features);
    return value === null ? [] : [{ inspectionId: id, serial, at, value, verdict }];
  });
}

async function readLimits(plantId: string, id: string): Promise<StreamLimitSet | null> {
  type Row = Omit<StreamLimitSet, "baselineFrom" | "baselineTo" | "createdAt" | "approvedAt"> & {
    baselineFrom: Date;
    baselineTo: Date;
    createdAt: Date;
    approvedAt: Date | null;
  };
  const { rows } = await getPool().query<Row>(sql`
    select l.id, l.version, l.center, l.sigma, l.lower, l.upper, l.range_center as "rangeCenter", l.range_upper as "rangeUpper",
      l.frames, l.provisional, l.method ->> 'kind' as kind, l.method ->> 'text' as method, l.baseline_from as "baselineFrom",
      l.baseline_to as "baselineTo", l.created_at as "createdAt", l.approved_at as "approvedAt", p.name as "approvedBy"
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

async function readSignals(plantId: string, streamId: string, from: Date): Promise<StreamSignal[]> {
  const { rows } = await getPool().query<
    Omit<StreamSignal, "at" | "side" | "points"> & { at: Date; detail: Pick<StreamSignal, "side" | "points"> }
  >(sql`
    select s.id, s.rule, s.inspection_id as "inspectionId", f.serial, s.measured_at as at, s.state::text as state, s.detail, s.cause,
      p.name as "assignedBy"
    from signal s
    join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    left join person p on p.plant_id = s.plant_id and p.id = s.assigned_by_id
    where s.plant_id = ${plantId} and s.stream_id = ${streamId} and s.state <> 'overtaken' and s.measured_at >= ${from}
    order by s.measured_at, s.id`);
  return rows.map(({ detail, at, ...row }) => ({
    ...row,
    at: at.toISOString(),
    side: detail.side,
    points: detail.points,
  }));
}

/**
 * One stream with its newest points, limits in force, signals and events.
 *
 * @param frames - how many of the newest frames, at most 5,000
 * @throws AppError not-found
 */
export async function getStream(viewer: Viewer, id: string, frames: number = 200): Promise<StreamPage> {
  assertMay(viewer, "drift.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<HeadRow>(sql`
    select st.id, st.line_id as "lineId", l.key as line, l.name as "lineName", o.name as operation,
      st.operation_id as "operationId", st.drawing_id as "drawingId", st.feature, st.points as total,
      st.limit_set_id as "limitSetId",
      (select r.content from drawing_revision r where r.plant_id = st.plant_id and r.drawing_id = st.drawing_id
        and r.state = 'released' order by r.released_at desc limit 1) as drawing
    from stream st
    join line l on l.plant_id = st.plant_id and l.id = st.line_id
    join operation o on o.plant_id = st.plant_id and o.id = st.operation_id
    where st.plant_id = ${plantId} and st.id::text = ${id}`);
  const head = rows[0];
  if (!head) throw new AppError("not-found", "There is no such stream. Choose one under Drift.");
  const points = await readPoints(plantId, head, Math.min(Math.max(frames, 1), 5000));
  const from = new Date(points[0]?.at ?? 0);
  const [limits, signals, events] = await Promise.all([
    head.limitSetId === null ? null : readLimits(plantId, head.limitSetId),
    readSignals(plantId, head.id, from),
    getPool().query<Omit<StreamEvent, "at"> & { at: Date }>(sql`
      select id, kind, at, text, subject from event
      where plant_id = ${plantId} and (line_id = ${head.lineId} or line_id is null) and at >= ${from} order by at, id limit 500`),
  ]);
  const judged =
    characteristicOf(head.feature)?.name ??
    (head.feature.includes("bore.mean") ? "bore" : head.feature === "width.mean" ? "width" : null);
  const characteristic = head.drawing.characteristics.find((one) => one.name === judged);
  return {
    id: head.id,
    lineId: head.lineId,
    line: head.line,
    lineName: head.lineName,
    operation: head.operation,
    drawing: head.drawing,
    feature: head.feature,
    kind: streamOf(head.feature).kind,
    tolerance:
      characteristic === undefined
        ? null
        : { lower: characteristic.lower, upper: characteristic.upper, uncertainty: characteristic.uncertainty },
    total: head.total,
    points,
    limits,
    signals,
    events: events.rows.map((row) => ({ ...row, at: row.at.toISOString() })),
  };
}
