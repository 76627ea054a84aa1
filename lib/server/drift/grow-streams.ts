import "server-only";
import { limitsMethodText } from "@/lib/format/signal-words";
import type pg from "pg";
import {
  APPROVABLE_FRAMES,
  CHARTED_STREAMS,
  estimateControlLimits,
  PROVISIONAL_FRAMES,
  streamValue,
  type ChartedStream,
  type ControlLimits,
} from "@/lib/quality/control-limits";
import { baselineOf } from "@/lib/quality/baseline";
import { streamSubject } from "@/lib/quality/stream-evaluation";
import { uuidV7 } from "@/lib/schemas/identifier";
import { limitSetColumns } from "../db/columns/limit-set";
import { streamColumns } from "../db/columns/stream";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import type { WithCommit } from "../db/transaction";
import { canonicalJson } from "../journal/canonical-json";
import { BASELINE_SEARCH, candidatesFor, readBaselineRows } from "./baseline-frames";

/** Streams of one line, operation and drawing: they grow together, one query for all. */
type Group = { readonly lineId: string; readonly operationId: string; readonly drawingId: string };

/** What a recorded inspection brings to its streams. */
type Charted = {
  readonly ordinal: number;
  readonly item: {
    readonly station: { readonly lineId: string; readonly operationId: string };
    readonly plan: { readonly drawingId: string };
    readonly measuredAt: Date;
    readonly findings: { readonly features: readonly (number | null)[] };
  };
};

const grown = together(
  streamColumns("s", ["id", "feature", "points", "limitSetId"]),
  orNull(
    limitSetColumns("l", {
      baselineTo: "baselineTo",
      limitFrames: "frames",
      isProvisional: "provisional",
      approvedAt: "approvedAt",
    }),
  ),
);
/** A stream with what its limits in force rest on; null where it has none. */
type StreamRow = RowOf<typeof grown>;

/** Streams of a group by their features. */
async function readGroup(db: pg.ClientBase, plantId: string, group: Group): Promise<Map<string, StreamRow>> {
  const { rows } = await db.query<StreamRow>(
    prepared(
      "read-stream-group",
      sql`select ${grown} from stream s left join limit_set l on l.plant_id = s.plant_id and l.id = s.limit_set_id
        where s.plant_id = ${plantId} and s.line_id = ${group.lineId} and s.operation_id = ${group.operationId}
          and s.drawing_id = ${group.drawingId}`,
    ),
  );
  return new Map(rows.map((row) => [row.feature, row]));
}

async function makeStreams(db: pg.ClientBase, plantId: string, group: Group): Promise<void> {
  await db.query(sql`
    insert into stream (plant_id, id, line_id, operation_id, drawing_id, feature)
    select ${plantId}, r.id, ${group.lineId}, ${group.operationId}, ${group.drawingId}, r.feature
    from unnest(${CHARTED_STREAMS.map(() => uuidV7())}::uuid[], ${CHARTED_STREAMS.map((one) => one.feature)}::text[])
      as r(id, feature)
    on conflict do nothing`);
}

/** What readGroup reads; streams that are not there yet are made. */
async function readGrowing(db: pg.ClientBase, plantId: string, group: Group): Promise<Map<string, StreamRow>> {
  const streams = await readGroup(db, plantId, group);
  if (streams.size >= CHARTED_STREAMS.length) return streams;
  await makeStreams(db, plantId, group);
  return readGroup(db, plantId, group);
}

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
): Promise<void> {
  if (due.length === 0) return;
  const rows = await readBaselineRows(db, plantId, group, { end: "first", most: BASELINE_SEARCH });
  for (const counted of due) {
    const { stream, row } = counted;
    const candidates = candidatesFor(rows, row.id, (features) => streamValue(stream, features));
    const charted = baselineOf(candidates, streamSubject(stream.feature));
    const first = charted[0];
    const last = charted.at(-1);
    if ((row.limitFrames ?? 0) >= charted.length && !isBaselineChanged(counted, from)) continue;
    const limits = estimateControlLimits(
      stream,
      charted.map((one) => one.value),
    );
    if (!limits.ok || !first || !last) continue;
    await putLimitsInForce(db, plantId, row.id, limits.value, { from: first.at, to: last.at }, null, now);
  }
}

/**
 * Due when nobody has approved limits and the stream may have come to its first 25 or 100 frames that may be in a baseline, or
 * when its baseline changed. Past the frames that are searched for a baseline nobody asks again.
 */
function isDue(counted: Counted, from: Date): boolean {
  const { row, points } = counted;
  if (row.approvedAt !== null) return false;
  if (isBaselineChanged(counted, from)) return true;
  if (row.points >= BASELINE_SEARCH) return false;
  return points >= (row.limitSetId === null ? PROVISIONAL_FRAMES : APPROVABLE_FRAMES) && (row.isProvisional ?? true);
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

/**
 * Lets the streams of one group grow: counts their points, tells the open screens, and computes limits where they are due. What
 * comes out does not depend on the order in which inspections arrived, nor on how many came together.
 *
 * @param change.from - measuring time of the first frame that was added or withdrawn, `to` of the last one
 * @param change.added - features of what was added, `withdrawn` of what was taken out; neither where only limits changed
 * @param withCommit - takes what need not be waited for before the commit
 */
export async function growGroup(
  db: pg.ClientBase,
  plantId: string,
  group: Group,
  change: {
    readonly from: Date;
    readonly to: Date;
    readonly added?: readonly Features[];
    readonly withdrawn?: readonly Features[];
  },
  now: Date,
  withCommit?: WithCommit,
): Promise<void> {
  const { from, to, added = [], withdrawn = [] } = change;
  const streams = await readGrowing(db, plantId, group);
  const counted = CHARTED_STREAMS.flatMap((stream): Counted[] => {
    const row = streams.get(stream.feature);
    if (!row) return [];
    const countOf = (list: readonly Features[]): number =>
      list.filter((features) => streamValue(stream, features) !== null).length;
    const gained = countOf(added) - countOf(withdrawn);
    return [{ stream, row, gained, points: row.points + gained }];
  });
  const told = countAndTell(db, plantId, group, counted, to);
  if (withCommit) withCommit(told);
  else await told;
  const due = counted.filter((one) => isDue(one, from));
  await computeDueLimits(db, plantId, group, due, from, now);
}

const groupKey = ({ lineId, operationId, drawingId }: Group): string => `${lineId} ${operationId} ${drawingId}`;

/** Lets the streams grow that some new inspections touch. What the frames mean to their cases is found after the commit. */
export async function growStreams(
  db: pg.ClientBase,
  plantId: string,
  placed: readonly Charted[],
  now: Date,
  withCommit?: WithCommit,
): Promise<void> {
  const groups = new Map<string, { group: Group; items: Charted["item"][] }>();
  for (const { ordinal, item } of placed) {
    if (ordinal !== 1) continue;
    const { station, plan } = item;
    const group = { lineId: station.lineId, operationId: station.operationId, drawingId: plan.drawingId };
    const known = groups.get(groupKey(group)) ?? { group, items: [] };
    known.items.push(item);
    groups.set(groupKey(group), known);
  }
  for (const { group, items } of groups.values()) {
    const times = items.map(({ measuredAt }) => measuredAt.getTime());
    const added = items.map(({ findings }) => findings.features);
    const change = { from: new Date(Math.min(...times)), to: new Date(Math.max(...times)), added };
    await growGroup(db, plantId, group, change, now, withCommit);
  }
}
