import "server-only";
import type pg from "pg";
import { featureRow } from "@/lib/core/metrology/measure-frame";
import {
  APPROVABLE_FRAMES,
  CHARTED_STREAMS,
  controlSignals,
  estimateControlLimits,
  PROVISIONAL_FRAMES,
  SIGNAL_WINDOW,
  streamValue,
  type ChartedStream,
  type ControlLimits,
} from "@/lib/quality/control-limits";
import { uuidV7 } from "@/lib/schemas/identifier";
import { prepared, sql } from "../db/sql";
import { canonicalJson } from "../journal/canonical-json";
import type { PlacedInspection } from "../inspections/place-inspection";

/** Streams of one line, operation and drawing: evaluated together, one query for all. */
type Group = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

type StreamRow = {
  readonly id: string;
  readonly feature: string;
  readonly points: number;
  readonly limitSetId: string | null;
  readonly limits: ControlLimits | null;
  readonly approved: boolean;
};

type Point = { readonly id: string; readonly at: Date; readonly features: readonly (number | null)[] };

type NewSignal = {
  readonly streamId: string;
  readonly rule: string;
  readonly inspectionId: string;
  readonly at: Date;
  readonly detail: unknown;
};

const LIMITS_JSON = sql`
  case when l.id is null then null else jsonb_build_object('kind', l.method ->> 'kind', 'center', l.center, 'sigma', l.sigma,
    'lower', l.lower, 'upper', l.upper, 'rangeCenter', l.range_center, 'rangeUpper', l.range_upper, 'frames', l.frames,
    'provisional', l.provisional, 'method', l.method ->> 'text') end`;

async function readStreams(db: pg.ClientBase, plantId: string, group: Group): Promise<Map<string, StreamRow>> {
  const read = () =>
    db.query<StreamRow>(
      prepared(
        "read-streams",
        sql`select s.id, s.feature, s.points, s.limit_set_id as "limitSetId", ${LIMITS_JSON} as limits,
            l.approved_at is not null as approved
          from stream s left join limit_set l on l.plant_id = s.plant_id and l.id = s.limit_set_id
          where s.plant_id = ${plantId} and s.line_id = ${group.lineId} and s.operation_id = ${group.operationId}
            and s.drawing_id = ${group.drawingId}`,
      ),
    );
  let rows = (await read()).rows;
  if (rows.length < CHARTED_STREAMS.length) {
    await db.query(sql`
      insert into stream (plant_id, id, line_id, operation_id, drawing_id, feature)
      select ${plantId}, r.id, ${group.lineId}, ${group.operationId}, ${group.drawingId}, r.feature
      from unnest(${CHARTED_STREAMS.map(() => uuidV7())}::uuid[], ${CHARTED_STREAMS.map((one) => one.feature)}::text[])
        as r(id, feature)
      on conflict do nothing`);
    rows = (await read()).rows;
  }
  return new Map(rows.map((row) => [row.feature, row]));
}

/** Charted points about a stretch of time: the first inspection of each frame that was not withdrawn, by corrected time. */
async function readWindow(db: pg.ClientBase, plantId: string, group: Group, from: Date, to: Date): Promise<Point[]> {
  const charted = sql`i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
    and i.drawing_id = ${group.drawingId} and i.ordinal = 1
    and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)`;
  const { rows } = await db.query<Point>(
    prepared(
      "read-stream-window",
      sql`(select i.id, i.measured_at as at, i.features from inspection i
          where ${charted} and i.measured_at < ${from}
          order by i.measured_at desc, i.id desc limit ${SIGNAL_WINDOW})
        union all
        (select i.id, i.measured_at as at, i.features from inspection i
          where ${charted} and i.measured_at >= ${from} and i.measured_at <= ${to})
        union all
        (select i.id, i.measured_at as at, i.features from inspection i
          where ${charted} and i.measured_at > ${to}
          order by i.measured_at, i.id limit ${SIGNAL_WINDOW})
        order by at, id`,
    ),
  );
  return rows;
}

/** The first frames of a stream: its baseline until an engineer chooses another. */
async function readBaseline(db: pg.ClientBase, plantId: string, group: Group, frames: number): Promise<Point[]> {
  const { rows } = await db.query<Point>(sql`
    select i.id, i.measured_at as at, i.features from inspection i
    where i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
      and i.drawing_id = ${group.drawingId} and i.ordinal = 1
      and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
    order by i.measured_at, i.id limit ${frames}`);
  return rows;
}

const valuesOf = (stream: ChartedStream, points: readonly Point[]) =>
  points.flatMap((point) => {
    const value = streamValue(stream, point.features);
    return value === null ? [] : [{ point, value }];
  });

/** Writes a version of limits and puts it in force. */
export async function putLimitsInForce(
  db: pg.ClientBase,
  plantId: string,
  streamId: string,
  limits: ControlLimits,
  baseline: { readonly from: Date; readonly to: Date },
  approval: { readonly personId: string; readonly at: Date } | null,
  now: Date,
): Promise<string> {
  const id = uuidV7(now.getTime());
  const method = { kind: limits.kind, text: limits.method };
  await db.query(sql`
    with made as (
      insert into limit_set (plant_id, id, stream_id, version, center, sigma, lower, upper, range_center, range_upper, method,
        baseline_from, baseline_to, frames, provisional, created_at, approved_at, approved_by_id)
      select ${plantId}, ${id}, ${streamId}, coalesce(max(version), 0) + 1, ${limits.center}, ${limits.sigma}, ${limits.lower},
        ${limits.upper}, ${limits.rangeCenter}, ${limits.rangeUpper}, ${canonicalJson(method)}::jsonb, ${baseline.from},
        ${baseline.to}, ${limits.frames}, ${limits.provisional}, ${now}, ${approval?.at ?? null}, ${approval?.personId ?? null}
      from limit_set where plant_id = ${plantId} and stream_id = ${streamId}
      returning id)
    update stream set limit_set_id = made.id from made where stream.plant_id = ${plantId} and stream.id = ${streamId}`);
  return id;
}

/** Computes limits when a stream has come to 25 or to 100 frames and nobody has approved others. */
async function computeDueLimits(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  due: readonly { readonly stream: ChartedStream; readonly row: StreamRow; readonly points: number }[],
  now: Date,
): Promise<ReadonlyMap<string, ControlLimits>> {
  const made = new Map<string, ControlLimits>();
  if (due.length === 0) return made;
  const frames = Math.max(
    ...due.map((one) => (one.points >= APPROVABLE_FRAMES ? APPROVABLE_FRAMES : PROVISIONAL_FRAMES)),
  );
  const points = await readBaseline(db, plantId, group, frames);
  for (const { stream, row } of due) {
    const charted = valuesOf(stream, points);
    const first = charted[0];
    const last = charted.at(-1);
    const limits = estimateControlLimits(
      stream,
      charted.map((one) => one.value),
    );
    if (!limits.ok || !first || !last) continue;
    await putLimitsInForce(db, plantId, row.id, limits.value, { from: first.point.at, to: last.point.at }, null, now);
    made.set(stream.feature, limits.value);
  }
  return made;
}

/** Due when the stream just came to 25 or to 100 frames: one that has no limits then is not asked again at every frame. */
function isDue(row: StreamRow, points: number): boolean {
  if (row.approved) return false;
  const reaches = (frames: number): boolean => row.points < frames && points >= frames;
  return reaches(APPROVABLE_FRAMES) || (reaches(PROVISIONAL_FRAMES) && row.limits === null);
}

/** Brings the stored signals of a stretch in line with the computed ones: new ones in, open ones that no longer hold out. */
async function storeSignals(
  db: pg.ClientBase,
  plantId: string,
  streamIds: readonly string[],
  stretch: { readonly from: Date; readonly to: Date | null },
  signals: readonly NewSignal[],
  now: Date,
): Promise<NewSignal[]> {
  const { rows } =
    signals.length === 0
      ? { rows: [] }
      : await db.query<{ streamId: string; rule: string; inspectionId: string }>(sql`
          insert into signal (plant_id, id, stream_id, rule, inspection_id, measured_at, raised_at, detail)
          select ${plantId}, r.id, r.stream_id, r.rule, r.inspection_id, r.at, ${now}, r.detail::jsonb
          from unnest(${signals.map(() => uuidV7(now.getTime()))}::uuid[], ${signals.map((one) => one.streamId)}::uuid[],
            ${signals.map((one) => one.rule)}::text[], ${signals.map((one) => one.inspectionId)}::uuid[],
            ${signals.map((one) => one.at)}::timestamptz[], ${signals.map((one) => canonicalJson(one.detail))}::text[])
            as r(id, stream_id, rule, inspection_id, at, detail)
          on conflict (plant_id, stream_id, rule, inspection_id) do update set state = 'open'
            where signal.state = 'overtaken'
          returning stream_id as "streamId", rule, inspection_id as "inspectionId"`);
  if (stretch.to !== null)
    await db.query(sql`
      update signal s set state = 'overtaken'
      where s.plant_id = ${plantId} and s.stream_id = any(${streamIds}::uuid[]) and s.state = 'open'
        and s.measured_at >= ${stretch.from} and s.measured_at <= ${stretch.to}
        and not exists (
          select 1 from unnest(${signals.map((one) => one.streamId)}::uuid[], ${signals.map((one) => one.rule)}::text[],
            ${signals.map((one) => one.inspectionId)}::uuid[]) as r(stream_id, rule, inspection_id)
          where r.stream_id = s.stream_id and r.rule = s.rule and r.inspection_id = s.inspection_id)`);
  const written = new Set(rows.map((row) => `${row.streamId} ${row.rule} ${row.inspectionId}`));
  return signals.filter((one) => written.has(`${one.streamId} ${one.rule} ${one.inspectionId}`));
}

function signalsOf(
  stream: ChartedStream,
  streamId: string,
  limits: ControlLimits,
  points: readonly Point[],
  from: Date,
): NewSignal[] {
  const charted = valuesOf(stream, points);
  return controlSignals(
    limits,
    charted.map((one) => one.value),
  ).flatMap((signal) => {
    const at = charted[signal.index];
    if (!at || at.point.at < from) return [];
    const detail = {
      side: signal.side,
      points: signal.points.length,
      first: charted[signal.points[0] ?? signal.index]?.point.id,
      value: at.value,
      center: limits.center,
      lower: limits.lower,
      upper: limits.upper,
    };
    return [{ streamId, rule: signal.rule, inspectionId: at.point.id, at: at.point.at, detail }];
  });
}

/** Evaluates all streams of one group again from a time on, as far as points after `to` can depend on it. */
export async function evaluateGroup(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  stretch: { readonly from: Date; readonly to: Date },
  added: { readonly points: readonly (readonly (number | null)[])[] },
  now: Date,
): Promise<NewSignal[]> {
  const rows = await readStreams(db, plantId, group);
  const window = await readWindow(db, plantId, group, stretch.from, stretch.to);
  const counted = CHARTED_STREAMS.flatMap((stream) => {
    const row = rows.get(stream.feature);
    if (!row) return [];
    const gained = added.points.filter((features) => streamValue(stream, features) !== null).length;
    return [{ stream, row, gained, points: row.points + gained }];
  });
  const gaining = counted.filter((one) => one.gained > 0);
  if (gaining.length > 0)
    await db.query(
      prepared(
        "count-stream-points",
        sql`update stream s set points = s.points + r.gained, last_at = greatest(s.last_at, ${stretch.to}::timestamptz)
          from unnest(${gaining.map((one) => one.row.id)}::uuid[], ${gaining.map((one) => one.gained)}::int[]) as r(id, gained)
          where s.plant_id = ${plantId} and s.id = r.id`,
      ),
    );
  const made = await computeDueLimits(
    db,
    plantId,
    group,
    counted.filter((one) => isDue(one.row, one.points)),
    now,
  );
  const signals = counted.flatMap(({ stream, row }) => {
    const limits = made.get(stream.feature) ?? row.limits;
    return limits === null ? [] : signalsOf(stream, row.id, limits, window, stretch.from);
  });
  const late = window.at(-1)?.at;
  // Nothing was added after these points: what is stored of them was computed before, and may not hold any more.
  const reEvaluated = late !== undefined && (late > stretch.to || added.points.length === 0) ? late : null;
  if (signals.length === 0 && reEvaluated === null) return [];
  return storeSignals(
    db,
    plantId,
    counted.map((one) => one.row.id),
    { from: stretch.from, to: reEvaluated },
    signals,
    now,
  );
}

const groupKey = ({ lineId, operationId, drawingId }: Group): string => `${lineId} ${operationId} ${drawingId}`;

/**
 * Evaluates the streams that some new inspections touch, in the order of corrected measuring time: a reading that comes late
 * takes its place, and the points after it are judged again.
 *
 * @returns signals raised, counted by the inspection at which each arose
 */
export async function evaluateStreams(
  db: pg.ClientBase,
  plantId: string,
  placed: readonly PlacedInspection[],
  now: Date,
): Promise<ReadonlyMap<string, number>> {
  const groups = new Map<string, { group: Group; items: PlacedInspection[] }>();
  for (const one of placed) {
    if (one.ordinal !== 1) continue;
    const { station, plan } = one.item;
    const group = { lineId: station.lineId, operationId: station.operationId, drawingId: plan.drawingId };
    const known = groups.get(groupKey(group)) ?? { group, items: [] };
    known.items.push(one);
    groups.set(groupKey(group), known);
  }
  const counts = new Map<string, number>();
  for (const { group, items } of groups.values()) {
    const times = items.map((one) => one.item.measuredAt.getTime());
    const stretch = { from: new Date(Math.min(...times)), to: new Date(Math.max(...times)) };
    const points = items.map((one) => featureRow(one.item.measurement));
    const raised = await evaluateGroup(db, plantId, group, stretch, { points }, now);
    for (const signal of raised) counts.set(signal.inspectionId, (counts.get(signal.inspectionId) ?? 0) + 1);
    await notifyLine(db, plantId, group, stretch.to);
  }
  return counts;
}

/** Tells every open screen, once a transaction and line, that there is something new to fetch. */
async function notifyLine(db: pg.ClientBase, plantId: string, group: Group, at: Date): Promise<void> {
  const message = canonicalJson({ plant: plantId, line: group.lineId, at });
  await db.query(prepared("notify-line", sql`select pg_notify('shellgate_live', ${message})`));
}
