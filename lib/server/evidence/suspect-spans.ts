import "server-only";
import type pg from "pg";
import type { SuspectSpan } from "@/lib/core/metrology/comparator";
import { sql } from "../db/sql";

/** The journal's chain of gauges. Its length counts zero checks and calibrations, so that a reader sees when another has come. */
export const GAUGES_CHAIN = "gauges";

/** A stretch of time whose readings are not proven, with the check that found the gauge out. */
export type FoundOutSpan = SuspectSpan & {
  /** The first failed check of the stretch, ms since 1970. */
  readonly foundMs: number;
  readonly limitUm: number;
};

export type SuspectGauges = {
  readonly version: number;
  /** By gauge key; gauges that were never found out are absent. */
  readonly spans: ReadonlyMap<string, readonly FoundOutSpan[]>;
  /** By gauge key, its first good zero check or calibration, ms since 1970; absent where there was none. */
  readonly firstGood: ReadonlyMap<string, number>;
};

/** Drifts come from decimal millimetres: beyond the limit only by more than the rounding of the subtraction, µm. */
export const DRIFT_ROUNDING_UM = 1e-6;

type SpanJson = FoundOutSpan & { readonly gauge: string };

/**
 * Reads the stretches of time that failed zero checks put in doubt, as suspectSpans of lib/core/metrology/comparator does from
 * all checks and calibrations of a gauge: here only failed ones and their neighbours are read, since this is asked every few
 * seconds.
 */
export async function readSuspectSpans(db: pg.ClientBase | pg.Pool, plantId: string): Promise<SuspectGauges> {
  const { rows } = await db.query<{
    version: string | null;
    spans: SpanJson[] | null;
    good: Record<string, number> | null;
  }>(sql`
    with span as (
      select g.key, g.id, a.at as after, u.at as until, min(z.at) as found,
        (array_agg(z.drift_um order by abs(z.drift_um) desc, z.at))[1] as drift, min(z.limit_um) as "limit"
      from zero_check z
      join gauge g on g.plant_id = z.plant_id and g.id = z.gauge_id
      left join lateral (select greatest(
        (select max(p.at) from zero_check p where p.plant_id = z.plant_id and p.gauge_id = z.gauge_id
          and p.at < z.at and abs(p.drift_um) <= p.limit_um + ${DRIFT_ROUNDING_UM}::float8),
        (select max(c.at) from calibration c where c.plant_id = z.plant_id and c.gauge_id = z.gauge_id
          and c.at <= z.at)) as at) a on true
      left join lateral (select least(
        (select min(n.at) from zero_check n where n.plant_id = z.plant_id and n.gauge_id = z.gauge_id
          and n.at > z.at and abs(n.drift_um) <= n.limit_um + ${DRIFT_ROUNDING_UM}::float8),
        (select min(c.at) from calibration c where c.plant_id = z.plant_id and c.gauge_id = z.gauge_id
          and c.at > z.at)) as at) u on true
      where z.plant_id = ${plantId} and abs(z.drift_um) > z.limit_um + ${DRIFT_ROUNDING_UM}::float8
      group by g.key, g.id, a.at, u.at)
    select (select length from journal_chain where plant_id = ${plantId} and chain = ${GAUGES_CHAIN})::text as version,
      (select json_agg(json_build_object('gauge', key, 'afterMs', (extract(epoch from after) * 1000)::float8,
        'untilMs', (extract(epoch from until) * 1000)::float8, 'foundMs', (extract(epoch from found) * 1000)::float8,
        'zeroErrorUm', drift, 'limitUm', "limit") order by found) from span) as spans,
      (select json_object_agg(g.key, (extract(epoch from good.at) * 1000)::float8) from gauge g
        cross join lateral (select least(
          (select min(z.at) from zero_check z where z.plant_id = g.plant_id and z.gauge_id = g.id
            and abs(z.drift_um) <= z.limit_um + ${DRIFT_ROUNDING_UM}::float8),
          (select min(c.at) from calibration c where c.plant_id = g.plant_id and c.gauge_id = g.id)) as at) good
        where g.plant_id = ${plantId} and good.at is not null) as good`);
  const { version, spans, good } = rows[0] ?? { version: null, spans: null, good: null };
  const byGauge = new Map<string, FoundOutSpan[]>();
  for (const { gauge, ...span } of spans ?? []) byGauge.set(gauge, [...(byGauge.get(gauge) ?? []), span]);
  return { version: Number(version ?? 0), spans: byGauge, firstGood: new Map(Object.entries(good ?? {})) };
}
