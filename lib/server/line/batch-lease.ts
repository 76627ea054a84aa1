import "server-only";
import type { BatchHolder } from "@/lib/schemas/station-package";
import { getPool } from "../db/client";
import { deviceColumns } from "../db/columns/device";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

/** A device that was silent for so long has left its batch. Common practice, no source. */
export const BATCH_LEASE_MINUTES = 15;

const holder = deviceColumns("device", ["id", "name"]);

/** Devices of a plant that have the batch in hand, but for one. */
export async function batchHolders(
  plantId: string,
  batch: string,
  butFor: string,
  now: Date,
): Promise<readonly BatchHolder[]> {
  const { rows } = await getPool().query<RowOf<typeof holder> & { since: string | null }>(sql`
    select ${holder}, queue ->> 'batchSince' as since from device
    where plant_id = ${plantId} and queue ->> 'batch' = ${batch} and id <> ${butFor} and revoked_at is null
      and last_seen_at > ${now}::timestamptz - make_interval(mins => ${BATCH_LEASE_MINUTES})
    order by name, id`);
  return rows;
}
