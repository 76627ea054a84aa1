import "server-only";
import { AppError } from "@/lib/errors";
import { suspectParts } from "@/lib/core/metrology/comparator";
import type { TraceGauge } from "@/lib/schemas/gauge";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { gaugeColumns } from "../db/columns/gauge";
import { type RowOf, together } from "../db/columns/table-columns";
import { zeroCheckColumns } from "../db/columns/zero-check";
import { sql } from "../db/sql";
import { readRestingInspections, restingOnGauge, type RestingOnGauge } from "../evidence/resting-frames";
import { readSuspectSpans } from "../evidence/suspect-spans";

export type GaugeTrace = {
  readonly gauge: string;
  readonly name: string;
  readonly kind: string;
  readonly principle: string;
  readonly from: string | null;
  readonly to: string;
  readonly resting: RestingOnGauge;
  /** Frames whose readings by this gauge a failed zero check made not proven. */
  readonly notProven: number;
  /** Signed decisions on frames of the list, or on their batches, in the stretch. */
  readonly decisions: readonly {
    readonly kind: string;
    readonly batch: string;
    readonly at: string;
    readonly person: string;
  }[];
  readonly escapes: number;
  readonly zeroChecks: readonly {
    readonly at: string;
    readonly readingMm: number;
    readonly driftUm: number;
    readonly limitUm: number;
    readonly passed: boolean;
    readonly occasion: string;
  }[];
};

const checkColumns = zeroCheckColumns("zero_check", ["at", "readingMm", "driftUm", "limitUm", "occasion"]);
const decisionsOnFrames = together(decisionColumns("d", ["kind", "at"]), batchColumns("b", { batch: "key" }));
const traced = gaugeColumns("gauge", ["id", "name", "kind", "principle"]);

/** The newest checks of a gauge that an answer lists. */
const MOST_CHECKS = 200;

async function readChecks(plantId: string, gaugeId: string, from: Date | null, to: Date) {
  const { rows } = await getPool().query<RowOf<typeof checkColumns>>(sql`
    select ${checkColumns} from zero_check
    where plant_id = ${plantId} and gauge_id = ${gaugeId} and at >= coalesce(${from}::timestamptz, '-infinity') and at <= ${to}
    order by at desc, id desc limit ${MOST_CHECKS}`);
  return rows
    .map((row) => ({ ...row, at: row.at.toISOString(), passed: Math.abs(row.driftUm) <= row.limitUm }))
    .reverse();
}

async function readDecisions(plantId: string, frameIds: readonly string[], from: Date | null) {
  const { rows } = await getPool().query<RowOf<typeof decisionsOnFrames> & { person: string }>(sql`
    select ${decisionsOnFrames}, ${nameThen("p", "d.at")} as person
    from decision d
    join batch b on b.plant_id = d.plant_id and b.id = d.batch_id
    join person p on p.plant_id = d.plant_id and p.id = d.person_id
    where d.plant_id = ${plantId} and d.at >= coalesce(${from}::timestamptz, '-infinity')
      and (d.frame_ids && ${frameIds}::uuid[] or (cardinality(d.frame_ids) = 0 and d.batch_id in (
        select f.batch_id from frame f where f.plant_id = ${plantId} and f.id = any(${frameIds}::uuid[]))))
    order by d.at, d.id limit 500`);
  return rows.map((row) => ({ ...row, at: row.at.toISOString() }));
}

async function countEscapes(plantId: string, frameIds: readonly string[]): Promise<number> {
  const { rows } = await getPool().query<{ count: number }>(sql`
    select count(*)::int as count from escape
    where plant_id = ${plantId} and frame_id = any(${frameIds}::uuid[]) and closed_at is null`);
  return rows[0]?.count ?? 0;
}

/** From its last good check before the newest failed one; where it was never found out, from its last good check. */
async function lastGoodCheck(
  plantId: string,
  gaugeId: string,
  spanStart: number | null | undefined,
): Promise<Date | null> {
  if (spanStart !== undefined) return spanStart === null ? null : new Date(spanStart);
  const { rows } = await getPool().query<{ at: Date | null }>(sql`
    select max(at) as at from zero_check where plant_id = ${plantId} and gauge_id = ${gaugeId}
      and abs(drift_um) <= limit_um`);
  return rows[0]?.at ?? null;
}

/**
 * Everything that rests on one gauge in a stretch of time: frames, batches, what has shipped, decisions.
 *
 * @param stretch - from its last good check (before the newest failed one) until now where left out
 * @throws AppError forbidden, not-found, invalid-input
 */
export async function traceGauge(viewer: Viewer, key: string, stretch: TraceGauge = {}): Promise<GaugeTrace> {
  assertMay(viewer, "gauges.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<RowOf<typeof traced>>(sql`
    select ${traced} from gauge where plant_id = ${plantId} and key = ${key}`);
  const gauge = rows[0];
  if (!gauge) throw new AppError("not-found", `There is no gauge ${key}. Check its key under Setup.`);
  const suspect = (await readSuspectSpans(getPool(), plantId)).spans.get(key) ?? [];
  const to = stretch.to === undefined ? new Date() : new Date(stretch.to);
  const from =
    stretch.from === undefined
      ? await lastGoodCheck(plantId, gauge.id, suspect.at(-1)?.afterMs)
      : new Date(stretch.from);
  if (from !== null && from > to)
    throw new AppError("invalid-input", "The stretch ends before it begins. Give a later end.", {
      fields: [{ path: "to", message: "must not lie before from" }],
    });
  const inspections = await readRestingInspections(getPool(), plantId, key, { after: from, until: to });
  const frameIds = [...new Set(inspections.map((one) => one.frameId))];
  const [zeroChecks, decisions, escapes] = await Promise.all([
    readChecks(plantId, gauge.id, from, to),
    readDecisions(plantId, frameIds, from),
    countEscapes(plantId, frameIds),
  ]);
  const doubted = inspections.filter(
    (one) => suspectParts(suspect, one.firstAt.getTime(), one.lastAt.getTime()).length > 0,
  );
  return {
    gauge: key,
    name: gauge.name,
    kind: gauge.kind,
    principle: gauge.principle,
    from: from?.toISOString() ?? null,
    to: to.toISOString(),
    resting: restingOnGauge(inspections),
    notProven: new Set(doubted.map((one) => one.frameId)).size,
    decisions,
    escapes,
    zeroChecks,
  };
}
