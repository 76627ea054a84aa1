import "server-only";
import { AppError } from "@/lib/errors";
import type { FrameState } from "@/lib/quality/frame-state";
import { plantDayEnd, plantDayStart } from "@/lib/schemas/plant-day";
import { MOST_TRACED, type TraceBackQuery, type TraceSubject } from "@/lib/schemas/trace-back";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { GAUGES_WORDS } from "./words";

const words = GAUGES_WORDS.traceBack;

const traced = together(
  frameColumns("f", { frameId: "id" }),
  frameColumns("f", ["serial", "state", "verdict", "shippedAt"]),
  batchColumns("b", { batch: "key" }),
  supplierColumns("s", { supplier: "name" }),
  lineColumns("l", { line: "key" }),
);
const decided = together(decisionColumns("d", ["kind", "at", "grounds"]), batchColumns("b", { batch: "key" }));
const inspected = inspectionColumns("i", ["frameId", "measuredAt"]);

export type TracedFrame = {
  readonly serial: string;
  readonly batch: string;
  readonly supplier: string;
  readonly line: string;
  readonly state: FrameState;
  readonly verdict: string | null;
  readonly shippedAt: string | null;
  /** The first and the last inspection that rests on it, and how many. */
  readonly firstAt: string;
  readonly lastAt: string;
  readonly inspections: number;
  readonly openEscape: boolean;
};

export type TracedBatch = {
  readonly batch: string;
  readonly supplier: string;
  readonly frames: number;
  readonly shipped: number;
  readonly held: number;
};

export type TraceBack = {
  readonly of: TraceSubject;
  readonly key: string;
  /** What it is called. */
  readonly name: string;
  readonly from: string | null;
  readonly to: string | null;
  readonly frames: number;
  readonly shipped: number;
  readonly openEscapes: number;
  /** Signed decisions on these frames, or on their batches as a whole. */
  readonly decisions: readonly {
    readonly kind: string;
    readonly batch: string;
    readonly at: string;
    readonly grounds: string;
  }[];
  readonly batches: readonly TracedBatch[];
  /** Shipped ones first, the newest shipment first; then by serial. */
  readonly list: readonly TracedFrame[];
  readonly notListed: number;
};

/** Everything that a frame's evidence can rest on, by its key and name; drafts were never measured by. */
const known = (plantId: string) => sql`
  select 'gauge' as of, key, key || ', ' || name as name from gauge where plant_id = ${plantId}
  union all select 'ring', key, key from setting_ring where plant_id = ${plantId}
  union all select 'inspector', id::text, name from person where plant_id = ${plantId}
  union all select 'device', id, name from device where plant_id = ${plantId}
  union all select 'drawing', r.id::text, d.key || ' ' || r.revision from drawing_revision r
    join drawing d on d.plant_id = r.plant_id and d.id = r.drawing_id where r.plant_id = ${plantId} and r.state <> 'draft'
  union all select 'plan', r.id::text, p.key || ' ' || r.revision from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    where r.plant_id = ${plantId} and r.state <> 'draft'`;

async function nameOf(plantId: string, of: TraceSubject, key: string): Promise<string> {
  const { rows } = await getPool().query<{ name: string }>(sql`
    select name from (${known(plantId)}) known where known.of = ${of} and known.key = ${key}`);
  const [found] = rows;
  if (found) return found.name;
  throw new AppError("not-found", words.isNo(of, key));
}

/** Which inspections rest on it. A ring: those by a gauge whose last zero check before was made in it. */
function restsOn(of: TraceSubject, key: string) {
  switch (of) {
    case "gauge":
      return sql`${key} = any(i.gauge_keys)`;
    case "ring":
      return sql`exists (
        select 1 from gauge g cross join lateral (select z.ring_id from zero_check z
          where z.plant_id = g.plant_id and z.gauge_id = g.id and z.at <= i.measured_at
          order by z.at desc, z.id desc limit 1) n
        join setting_ring r on r.plant_id = g.plant_id and r.id = n.ring_id
        where g.plant_id = i.plant_id and g.key = any(i.gauge_keys) and r.key = ${key})`;
    case "inspector":
      return sql`i.inspector_id = ${key}::uuid`;
    case "device":
      return sql`i.device_id = ${key}`;
    case "drawing":
      return sql`i.drawing_revision_id = ${key}::uuid`;
    case "plan":
      return sql`i.plan_revision_id = ${key}::uuid`;
  }
}

type FrameRow = RowOf<typeof traced> & { firstAt: Date; lastAt: Date; inspections: number; openEscape: boolean };

async function readFrames(plantId: string, { of, key }: TraceBackQuery, from: Date | null, to: Date | null) {
  // Lines, operations and drawings are few: their product leads into the index by measuring time.
  const { rows } = await getPool().query<FrameRow>(sql`
    with rests as (
      select ${inspected}
      from line l
      join operation o on o.plant_id = l.plant_id
      join drawing d on d.plant_id = l.plant_id
      join inspection i on i.plant_id = l.plant_id and i.line_id = l.id and i.operation_id = o.id and i.drawing_id = d.id
        and i.measured_at >= coalesce(${from}::timestamptz, '-infinity')
        and i.measured_at <= coalesce(${to}::timestamptz, 'infinity')
      where l.plant_id = ${plantId} and ${restsOn(of, key)} and ${notWithdrawn}),
    frames as (
      select "frameId" as id, min("measuredAt") as first, max("measuredAt") as last, count(*)::int as inspections
      from rests group by "frameId")
    select ${traced}, x.first as "firstAt", x.last as "lastAt", x.inspections,
      exists (select 1 from escape e where e.plant_id = f.plant_id and e.frame_id = f.id and e.closed_at is null) as "openEscape"
    from frames x
    join frame f on f.plant_id = ${plantId} and f.id = x.id
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    order by f.shipped_at desc nulls last, f.serial`);
  return rows;
}

async function readDecisions(plantId: string, frameIds: readonly string[]) {
  const { rows } = await getPool().query<RowOf<typeof decided>>(sql`
    select ${decided}
    from decision d join batch b on b.plant_id = d.plant_id and b.id = d.batch_id
    where d.plant_id = ${plantId} and (d.frame_ids && ${frameIds}::uuid[]
      or (cardinality(d.frame_ids) = 0 and d.batch_id in (
        select f.batch_id from frame f where f.plant_id = ${plantId} and f.id = any(${frameIds}::uuid[]))))
    order by d.at desc, d.id limit 200`);
  return rows.map((row) => ({ ...row, at: row.at.toISOString() }));
}

function batchesOf(frames: readonly FrameRow[]): readonly TracedBatch[] {
  const known = new Map<string, FrameRow[]>();
  for (const frame of frames) {
    const list = known.get(frame.batch);
    if (list) list.push(frame);
    else known.set(frame.batch, [frame]);
  }
  return [...known]
    .map(([batch, list]) => ({
      batch,
      supplier: list[0]?.supplier ?? "",
      frames: list.length,
      shipped: list.filter(({ shippedAt }) => shippedAt !== null).length,
      held: list.filter(({ state }) => state === "held").length,
    }))
    .sort((a, b) => b.shipped - a.shipped || b.frames - a.frames);
}

const endOf = (given: string | undefined, zone: string, end: "start" | "end"): Date | null => {
  if (given === undefined) return null;
  if (given.includes("T")) return new Date(given);
  return end === "start" ? plantDayStart(given, zone) : plantDayEnd(given, zone);
};

/**
 * Every frame, batch and decision that rests on a gauge, a ring, an inspector, a device, a drawing revision or a plan revision in a
 * stretch of time; what has shipped first. Inspections that were withdrawn say nothing and are left out.
 *
 * @param most - frames that are listed; the counts are of all
 * @throws AppError forbidden, not-found, invalid-input
 */
export async function traceBack(viewer: Viewer, query: TraceBackQuery, most = MOST_TRACED): Promise<TraceBack> {
  assertMay(viewer, "gauges.view");
  const { plantId, plantZone } = viewer;
  const name = await nameOf(plantId, query.of, query.key);
  const from = endOf(query.from, plantZone, "start");
  const to = endOf(query.to, plantZone, "end");
  if (from !== null && to !== null && from > to)
    throw new AppError("invalid-input", words.endsBeforeItBegins, {
      fields: [{ path: "to", message: words.mustNotLieBefore }],
    });
  const frames = await readFrames(plantId, query, from, to);
  const decisions = await readDecisions(
    plantId,
    frames.map(({ frameId }) => frameId),
  );
  return {
    of: query.of,
    key: query.key,
    name,
    from: from?.toISOString() ?? null,
    to: to?.toISOString() ?? null,
    frames: frames.length,
    shipped: frames.filter(({ shippedAt }) => shippedAt !== null).length,
    openEscapes: frames.filter(({ openEscape }) => openEscape).length,
    decisions,
    batches: batchesOf(frames),
    list: frames.slice(0, most).map(({ frameId: _, shippedAt, firstAt, lastAt, ...frame }) => ({
      ...frame,
      shippedAt: shippedAt?.toISOString() ?? null,
      firstAt: firstAt.toISOString(),
      lastAt: lastAt.toISOString(),
    })),
    notListed: Math.max(0, frames.length - most),
  };
}

/** What can be chosen to trace back from. */
export type TraceChoice = { readonly of: TraceSubject; readonly key: string; readonly name: string };

/**
 * Everything that a trace back can begin with.
 *
 * @throws AppError forbidden
 */
export async function listTraceChoices(viewer: Viewer): Promise<readonly TraceChoice[]> {
  assertMay(viewer, "gauges.view");
  const { rows } = await getPool().query<TraceChoice>(sql`
    select of, key, name from (${known(viewer.plantId)}) known order by of, name`);
  return rows;
}
