import "server-only";
import type { BatchHolder } from "@/lib/schemas/station-package";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

/** A device that was silent for so long has left its batch. Common practice, no source. */
export const BATCH_LEASE_MINUTES = 15;

/** Devices of a plant that have the batch in hand, but for one. */
export async function batchHolders(
  plantId: string,
  batch: string,
  butFor: string,
  now: Date,
): Promise<readonly BatchHolder[]> {
  const { rows } = await getPool().query<BatchHolder>(sql`
    select id, name, queue ->> 'batchSince' as since from device
    where plant_id = ${plantId} and queue ->> 'batch' = ${batch} and id <> ${butFor} and revoked_at is null
      and last_seen_at > ${now}::timestamptz - make_interval(mins => ${BATCH_LEASE_MINUTES})
    order by name, id`);
  return rows;
}
