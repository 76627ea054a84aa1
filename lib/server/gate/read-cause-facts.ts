import "server-only";
import type pg from "pg";
import { type ToldCause, toldCause } from "@/lib/format/cause-words";
import { formatMoment } from "@/lib/format/date-text";
import { type CauseFacts, causeSide, type Share, sideOfCause } from "@/lib/quality/cause-side";
import type { Viewer } from "../auth/viewer";
import { notWithdrawn } from "../db/columns/inspection";
import { sql } from "../db/sql";
import type { BatchWithEvidence } from "./read-batch-evidence";

/** How far back other batches of the supplier count, and how near those of others on the line lie. */
const SUPPLIER_DAYS = 90;
const NEIGHBOUR_DAYS = 3;
/** The operation at which bought shells are measured before anybody works on them. */
const INCOMING = "incoming";

type Row = {
  operations: { key: string; name: string }[] | null;
  moulds: (Share & { mould: string })[] | null;
  gauges: string[] | null;
  events: { kind: string; at: string; before: Share; after: Share }[] | null;
  cases: { number: number; cause: string }[] | null;
  batch: Share;
  supplier: CauseFacts["supplier"];
  neighbours: CauseFacts["neighbours"];
};

/**
 * What is known of where the failures of a batch come from.
 *
 * @param gauges - of the batch that had no calibration while they measured it
 */
async function readCauseFacts(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batchId: string,
  gauges: readonly string[],
): Promise<CauseFacts> {
  const { rows } = await db.query<Row>(sql`
    with b as (select * from batch where plant_id = ${plantId} and id = ${batchId}),
      f as (select id, mould, measured_at, inspections > 0 as measured, verdict = 'does not conform' as failed
        from frame where plant_id = ${plantId} and batch_id = ${batchId}),
      i as (select i.* from inspection i where i.plant_id = ${plantId} and i.batch_id = ${batchId} and ${notWithdrawn}),
      span as (select min(measured_at) as first, max(measured_at) as last from i),
      near as (select o.id, t.frames - t.not_measured as measured, t.not_conforming as failed, o.supplier_id = b.supplier_id as own
        from b join batch o on o.plant_id = b.plant_id and o.id <> b.id
        join batch_tally t on t.plant_id = o.plant_id and t.batch_id = o.id
        where (o.supplier_id = b.supplier_id and o.model_id = b.model_id
            and o.opened_at between b.opened_at - make_interval(days => ${SUPPLIER_DAYS}) and b.opened_at)
          or (o.supplier_id <> b.supplier_id and o.line_id = b.line_id
            and o.opened_at between b.opened_at - make_interval(days => ${NEIGHBOUR_DAYS}) and b.opened_at + make_interval(days => ${NEIGHBOUR_DAYS})))
    select
      (select json_agg(json_build_object('key', o.key, 'name', o.name) order by o.position) from operation o
        where o.plant_id = ${plantId} and exists (select 1 from i join f on f.id = i.frame_id where i.operation_id = o.id and f.failed)) as operations,
      (select json_agg(m) from (select mould, count(*) filter (where measured)::int as measured, count(*) filter (where failed)::int as failed
        from f where mould is not null group by mould) m) as moulds,
      (select array_agg(distinct g.key) from span, gauge g join zero_check z on z.plant_id = g.plant_id and z.gauge_id = g.id
        where g.plant_id = ${plantId} and abs(z.drift_um) > z.limit_um
          and z.at between span.first - interval '1 day' and span.last + interval '3 days'
          and exists (select 1 from i where g.key = any(i.gauge_keys))) as gauges,
      (select json_agg(e order by e.at) from (select e.kind, e.at,
          json_build_object('measured', count(*) filter (where f.measured_at < e.at),
            'failed', count(*) filter (where f.failed and f.measured_at < e.at)) as before,
          json_build_object('measured', count(*) filter (where f.measured_at >= e.at),
            'failed', count(*) filter (where f.failed and f.measured_at >= e.at)) as after
        from b, span, event e, f where e.plant_id = ${plantId} and e.line_id = b.line_id and e.at between span.first and span.last
          and f.measured group by e.id, e.kind, e.at order by e.at limit 50) e) as events,
      (select json_agg(json_build_object('number', c.number, 'cause', c.found -> 'answer' ->> 'cause') order by c.number desc)
        from case_batch cb join drift_case c on c.plant_id = cb.plant_id and c.id = cb.case_id
        where cb.plant_id = ${plantId} and cb.batch_id = ${batchId} and c.state <> 'joined'
          and c.found -> 'answer' ->> 'kind' = 'probable') as cases,
      (select json_build_object('measured', count(*) filter (where measured), 'failed', count(*) filter (where failed)) from f) as batch,
      (select json_build_object('batches', count(*), 'measured', coalesce(sum(measured), 0), 'failed', coalesce(sum(failed), 0)) from near where own) as supplier,
      (select json_build_object('batches', count(*), 'measured', coalesce(sum(measured), 0), 'failed', coalesce(sum(failed), 0),
          'troubled', count(*) filter (where failed * 20 >= measured)) from near where not own and measured > 0) as neighbours`);
  const row = rows[0];
  const nothing = { measured: 0, failed: 0 };
  return {
    operations: (row?.operations ?? []).map(({ key, name }) => ({ name, isIncoming: key === INCOMING })),
    batch: row?.batch ?? nothing,
    moulds: row?.moulds ?? [],
    supplier: row?.supplier ?? { ...nothing, batches: 0 },
    neighbours: row?.neighbours ?? { ...nothing, batches: 0, troubled: 0 },
    gauges: [...new Set([...gauges, ...(row?.gauges ?? [])])].sort(),
    cases: (row?.cases ?? [])
      .filter(({ cause }) => sideOfCause(cause) !== "open")
      .map((one) => ({ ...one, isOurs: sideOfCause(one.cause) === "ours" })),
    events: (row?.events ?? []).map((event) => ({ ...event, at: new Date(event.at) })),
  };
}

/** Whose cause the evidence of a batch speaks for, in sentences. */
export async function readCause(
  db: pg.ClientBase | pg.Pool,
  { plantId, plantZone: zone }: Viewer,
  { id, circumstances }: Pick<BatchWithEvidence, "id" | "circumstances">,
): Promise<ToldCause> {
  const gauges = (circumstances.gauges ?? []).map(({ gauge }) => gauge);
  const facts = await readCauseFacts(db, plantId, id, gauges);
  return toldCause(causeSide(facts), (time) => formatMoment(time, { zone }));
}
