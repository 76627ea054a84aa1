import "server-only";
import { limitsMethodText } from "@/lib/format/signal-words";
import type pg from "pg";
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
import { baselineOf } from "@/lib/quality/baseline";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import { uuidV7 } from "@/lib/schemas/identifier";
import { notWithdrawn } from "../db/columns/inspection";
import { signalColumns } from "../db/columns/signal";
import type { RowOf } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import type { WithCommit } from "../db/transaction";
import { canonicalJson } from "../journal/canonical-json";
import {
  BASELINE_SEARCH,
  candidatesFor,
  pointColumns,
  type PointRow as Point,
  readBaselineRows,
} from "./baseline-frames";

/** Streams of one line, operation and drawing: evaluated together, one query for all. */
type Group = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

/** What a recorded inspection brings to its streams. */
type Charted = {
  readonly ordinal: number;
  readonly item: {
    readonly input: { readonly id: string };
    readonly station: { readonly lineId: string; readonly operationId: string };
    readonly plan: { readonly drawingId: string };
    readonly measuredAt: Date;
    readonly findings: { readonly features: readonly (number | null)[] };
  };
};

type StreamRow = {
  readonly id: string;
  readonly feature: string;
  readonly points: number;
  readonly limitSetId: string | null;
  readonly limits: ControlLimits | null;
  readonly approved: boolean;
  /** Measuring time of the last frame that the limits rest on. */
  readonly baselineTo: Date | null;
};

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
    'provisional', l.provisional, 'method', jsonb_build_object('code', 'kept', 'text', l.method ->> 'text'), 'average', l.method -> 'average') end`;

type Stretch = { readonly from: Date; readonly to: Date };
type LimitsJson = Omit<StreamRow, "baselineTo"> & { readonly baselineTo: string | null };
type PointJson = Omit<Point, "at"> & { readonly at: string };

/** Streams of a group with their limits, and the points on either side of a stretch that its signals can depend on. */
async function readGroup(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  stretch: Stretch,
  added: readonly string[],
): Promise<{ readonly streams: Map<string, StreamRow>; readonly points: Point[] }> {
  const charted = sql`i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
    and i.drawing_id = ${group.drawingId} and i.ordinal = 1 and i.id <> all(${added}::uuid[])
    and ${notWithdrawn}`;
  const { from, to } = stretch;
  const { rows } = await db.query<{ streams: LimitsJson[] | null; points: PointJson[] | null }>(
    prepared(
      "read-stream-group",
      sql`select
        (select json_agg(json_build_object('id', s.id, 'feature', s.feature, 'points', s.points, 'limitSetId', s.limit_set_id,
            'limits', ${LIMITS_JSON}, 'approved', l.approved_at is not null, 'baselineTo', l.baseline_to))
          from stream s left join limit_set l on l.plant_id = s.plant_id and l.id = s.limit_set_id
          where s.plant_id = ${plantId} and s.line_id = ${group.lineId} and s.operation_id = ${group.operationId}
            and s.drawing_id = ${group.drawingId}) as streams,
        (select json_agg(json_build_object('id', p.id, 'at', p.at, 'features', p.features)) from (
          (select ${pointColumns} from inspection i
            where ${charted} and i.measured_at < ${from}
            order by i.measured_at desc, i.id desc limit ${SIGNAL_WINDOW})
          union all
          (select ${pointColumns} from inspection i
            where ${charted} and i.measured_at >= ${from} and i.measured_at <= ${to})
          union all
          (select ${pointColumns} from inspection i
            where ${charted} and i.measured_at > ${to}
            order by i.measured_at, i.id limit ${SIGNAL_WINDOW})) as p) as points`,
    ),
  );
  const { streams, points } = rows[0] ?? { streams: null, points: null };
  return {
    streams: new Map(
      (streams ?? []).map((row) => [
        row.feature,
        { ...row, baselineTo: row.baselineTo === null ? null : new Date(row.baselineTo) },
      ]),
    ),
    points: (points ?? []).map((point) => ({ ...point, at: new Date(point.at) })),
  };
}

async function makeStreams(db: pg.ClientBase, plantId: string, group: Group): Promise<void> {
  await db.query(sql`
    insert into stream (plant_id, id, line_id, operation_id, drawing_id, feature)
    select ${plantId}, r.id, ${group.lineId}, ${group.operationId}, ${group.drawingId}, r.feature
    from unnest(${CHARTED_STREAMS.map(() => uuidV7())}::uuid[], ${CHARTED_STREAMS.map((one) => one.feature)}::text[])
      as r(id, feature)
    on conflict do nothing`);
}

/** As the charts go: by corrected time, then by key. */
const byTime = (a: Point, b: Point): number => a.at.getTime() - b.at.getTime() || (a.id < b.id ? -1 : 1);

/** What readGroup reads, with the points that this transaction adds among them in the order of measuring. */
async function readGroupWith(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  stretch: Stretch,
  added: readonly Point[],
): Promise<{ readonly streams: Map<string, StreamRow>; readonly window: Point[] }> {
  const ids = added.map((point) => point.id);
  let read = await readGroup(db, plantId, group, stretch, ids);
  if (read.streams.size < CHARTED_STREAMS.length) {
    await makeStreams(db, plantId, group);
    read = await readGroup(db, plantId, group, stretch, ids);
  }
  return { streams: read.streams, window: [...read.points, ...added].sort(byTime) };
}

/** All frames of a group. */
async function readAll(db: pg.ClientBase, plantId: string, group: Group): Promise<Point[]> {
  const { rows } = await db.query<Point>(sql`
    select ${pointColumns} from inspection i
    where i.plant_id = ${plantId} and i.line_id = ${group.lineId} and i.operation_id = ${group.operationId}
      and i.drawing_id = ${group.drawingId} and i.ordinal = 1
      and ${notWithdrawn}
    order by i.measured_at, i.id`);
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
  const method = { kind: limits.kind, text: limitsMethodText(limits.method), average: limits.average };
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

type Counted = {
  readonly stream: ChartedStream;
  readonly row: StreamRow;
  /** Points that this transaction adds, negative where one was withdrawn. */
  readonly gained: number;
  /** Points of the stream after it. */
  readonly points: number;
};

/** A frame arrived late into the baseline of a stream, or one of it was withdrawn. */
function isBaselineChanged({ row, gained }: Counted, from: Date): boolean {
  return gained !== 0 && row.baselineTo !== null && from <= row.baselineTo;
}

/** Computes limits of the streams that are due, from the first of their frames that may be in a baseline. */
async function computeDueLimits(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  due: readonly Counted[],
  from: Date,
  now: Date,
): Promise<ReadonlyMap<string, ControlLimits>> {
  const made = new Map<string, ControlLimits>();
  if (due.length === 0) return made;
  const rows = await readBaselineRows(db, plantId, group, { end: "first", most: BASELINE_SEARCH });
  for (const counted of due) {
    const { stream, row } = counted;
    const candidates = candidatesFor(rows, row.id, (features) => streamValue(stream, features));
    const charted = baselineOf(candidates, streamSubject(stream.feature));
    const first = charted[0];
    const last = charted.at(-1);
    if (row.limits !== null && row.limits.frames >= charted.length && !isBaselineChanged(counted, from)) continue;
    const limits = estimateControlLimits(
      stream,
      charted.map((one) => one.value),
    );
    if (!limits.ok || !first || !last) continue;
    await putLimitsInForce(db, plantId, row.id, limits.value, { from: first.at, to: last.at }, null, now);
    made.set(stream.feature, limits.value);
  }
  return made;
}

/**
 * Due when nobody has approved limits and the stream may have come to its first 25 or 100 frames that may be in a baseline, or
 * when its baseline changed. Past the frames that are searched for a baseline nobody asks again.
 */
function isDue(counted: Counted, from: Date): boolean {
  const { row, points } = counted;
  if (row.approved) return false;
  if (isBaselineChanged(counted, from)) return true;
  if (row.points >= BASELINE_SEARCH) return false;
  return points >= (row.limits === null ? PROVISIONAL_FRAMES : APPROVABLE_FRAMES) && (row.limits?.provisional ?? true);
}

const storedSignal = signalColumns("signal", ["streamId", "rule", "inspectionId"]);

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
      : await db.query<RowOf<typeof storedSignal>>(sql`
          insert into signal (plant_id, id, stream_id, rule, inspection_id, measured_at, raised_at, detail)
          select ${plantId}, r.id, r.stream_id, r.rule, r.inspection_id, r.at, ${now}, r.detail::jsonb
          from unnest(${signals.map(() => uuidV7(now.getTime()))}::uuid[], ${signals.map((one) => one.streamId)}::uuid[],
            ${signals.map((one) => one.rule)}::text[], ${signals.map((one) => one.inspectionId)}::uuid[],
            ${signals.map((one) => one.at)}::timestamptz[], ${signals.map((one) => canonicalJson(one.detail))}::text[])
            as r(id, stream_id, rule, inspection_id, at, detail)
          on conflict (plant_id, stream_id, rule, inspection_id) do update set state = 'open'
            where signal.state = 'overtaken'
          returning ${storedSignal}`);
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

/** Counts the points of streams, and tells every open screen, once a transaction, that there is something to fetch. */
async function countAndTell(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  counted: readonly Counted[],
  lastAt: Date,
): Promise<void> {
  const changed = counted.filter((one) => one.gained !== 0);
  const message = canonicalJson({ plant: plantId, line: group.lineId, at: lastAt });
  await db.query(
    prepared(
      "count-and-tell",
      sql`with counted as (
          update stream s set points = s.points + r.gained, last_at = greatest(s.last_at, ${lastAt}::timestamptz)
          from unnest(${changed.map((one) => one.row.id)}::uuid[], ${changed.map((one) => one.gained)}::int[])
            as r(id, gained)
          where s.plant_id = ${plantId} and s.id = r.id)
        select pg_notify('shellgate_live', ${message})`,
    ),
  );
}

type Features = readonly (number | null)[];
const BEGINNING = new Date(0);

/** Judges streams that got other limits from their beginning on: what was found by the limits of before no longer counts. */
async function judgeFromBeginning(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  streams: readonly Counted[],
  made: ReadonlyMap<string, ControlLimits>,
  now: Date,
): Promise<NewSignal[]> {
  if (streams.length === 0) return [];
  const points = await readAll(db, plantId, group);
  const signals = streams.flatMap(({ stream, row }) => {
    const limits = made.get(stream.feature);
    return limits === undefined ? [] : signalsOf(stream, row.id, limits, points, BEGINNING);
  });
  const stretch = { from: BEGINNING, to: points.at(-1)?.at ?? null };
  return storeSignals(
    db,
    plantId,
    streams.map((one) => one.row.id),
    stretch,
    signals,
    now,
  );
}

/**
 * Evaluates all streams of one group again from a time on, as far as points after `to` can depend on it. What comes out does
 * not depend on the order in which inspections arrived, nor on how many came together.
 *
 * @param change - what was added within the stretch, or the features of what was withdrawn; neither where limits changed
 * @param withCommit - takes what need not be waited for before the commit
 */
export async function evaluateGroup(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  stretch: Stretch,
  change: { readonly added?: readonly Point[]; readonly withdrawn?: readonly Features[] },
  now: Date,
  withCommit?: WithCommit,
): Promise<NewSignal[]> {
  const { added = [], withdrawn = [] } = change;
  const { streams, window } = await readGroupWith(db, plantId, group, stretch, added);
  const counted = CHARTED_STREAMS.flatMap((stream): Counted[] => {
    const row = streams.get(stream.feature);
    if (!row) return [];
    const countOf = (list: readonly Features[]): number =>
      list.filter((features) => streamValue(stream, features) !== null).length;
    const gained = countOf(added.map((point) => point.features)) - countOf(withdrawn);
    return [{ stream, row, gained, points: row.points + gained }];
  });
  const told = countAndTell(db, plantId, group, counted, stretch.to);
  if (withCommit) withCommit(told);
  else await told;
  const due = counted.filter((one) => isDue(one, stretch.from));
  const made = await computeDueLimits(db, plantId, group, due, stretch.from, now);
  const anew = counted.filter((one) => made.has(one.stream.feature));
  const others = counted.filter((one) => !made.has(one.stream.feature));
  const raised = await judgeFromBeginning(db, plantId, group, anew, made, now);
  const signals = others.flatMap(({ stream, row }) =>
    row.limits === null ? [] : signalsOf(stream, row.id, row.limits, window, stretch.from),
  );
  // Points that were here before lie in the stretch or after it: what is stored of them may not hold any more.
  const isLate = window.filter((point) => point.at >= stretch.from).length > added.length || added.length === 0;
  const reEvaluated = isLate ? (window.at(-1)?.at ?? stretch.to) : null;
  if (signals.length === 0 && reEvaluated === null) return raised;
  const stored = await storeSignals(
    db,
    plantId,
    others.map((one) => one.row.id),
    { from: stretch.from, to: reEvaluated },
    signals,
    now,
  );
  return [...raised, ...stored];
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
  placed: readonly Charted[],
  now: Date,
  withCommit?: WithCommit,
): Promise<ReadonlyMap<string, number>> {
  const groups = new Map<string, { group: Group; items: Charted[] }>();
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
    const points = items.map(({ item }) => ({
      id: item.input.id,
      at: item.measuredAt,
      features: item.findings.features,
    }));
    const raised = await evaluateGroup(db, plantId, group, stretch, { added: points }, now, withCommit);
    for (const signal of raised) counts.set(signal.inspectionId, (counts.get(signal.inspectionId) ?? 0) + 1);
  }
  return counts;
}
