import "server-only";
import type pg from "pg";
import { frameColumns } from "../db/columns/frame";
import { notWithdrawn } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

/** What a batch's measured frames were found to be, and whether somebody has signed for the rest. */
export type SampleFindings = {
  /** Frames that did not conform when they were measured, whatever became of them since. */
  readonly found: readonly string[];
  /** A signed decision takes the risk of the unmeasured rest, knowing all of them. */
  readonly isAccepted: boolean;
};

const failed = frameColumns("f", ["serial"]);

/**
 * Frames of a batch that did not conform: scrapped, returned, regraded, reworked or not. Inspections that were withdrawn found
 * nothing.
 */
export async function readSampleFindings(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batchId: string,
): Promise<SampleFindings> {
  const { rows } = await db.query<RowOf<typeof failed>>(sql`
    select ${failed} from frame f
    where f.plant_id = ${plantId} and f.batch_id = ${batchId} and f.inspections > 0
      and (f.verdict = 'does not conform' or exists (select 1 from inspection i
        where i.plant_id = f.plant_id and i.frame_id = f.id and i.verdict = 'does not conform'
          and ${notWithdrawn}))
    order by f.serial`);
  const found = rows.map(({ serial }) => serial);
  const { rows: decisions } = await db.query<{ known: string[] }>(sql`
    select evidence -> 'found' as known from decision
    where plant_id = ${plantId} and batch_id = ${batchId} and kind = 'accept_sample_risk' order by at desc, id desc limit 1`);
  const taken = decisions[0];
  if (taken === undefined) return { found, isAccepted: false };
  const known = new Set(taken.known);
  return { found, isAccepted: found.every((serial) => known.has(serial)) };
}
