import "server-only";
import type pg from "pg";
import { batchColumns } from "../db/columns/batch";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

const locked = batchColumns("batch", ["id", "key"]);

/**
 * Holds the batches in which a frame was just held. They are locked first, whatever they are at that moment: a release that
 * is under way ends before, and is taken back. A batch that is held already gets a new version, since its evidence changed:
 * who decides on the page of before is asked to look again.
 *
 * @returns batches that were not held before
 */
export async function holdBatches(
  db: pg.ClientBase,
  plantId: string,
  batchIds: readonly string[],
  now: Date,
): Promise<readonly { readonly id: string; readonly key: string }[]> {
  const ids = [...new Set(batchIds)].sort();
  if (ids.length === 0) return [];
  const { rows } = await db.query<RowOf<typeof locked> & { held: boolean }>(sql`
    select ${locked}, held_at is not null as held from batch
    where plant_id = ${plantId} and id = any(${ids}::uuid[]) order by id for update`);
  await db.query(sql`
    update batch set held_at = coalesce(held_at, ${now}::timestamptz), released_at = null, version = version + 1
    where plant_id = ${plantId} and id = any(${ids}::uuid[])`);
  return rows.filter((row) => !row.held).map(({ id, key }) => ({ id, key }));
}
