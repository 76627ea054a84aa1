import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

export type ShipmentCounts = { readonly shipped: number; readonly refused: number };

/** Ship scans of the plant's own day so far. A serial that was misread stopped no frame. */
export async function countShipments(viewer: Viewer): Promise<ShipmentCounts> {
  assertMay(viewer, "gate.view");
  const { rows } = await getPool().query<ShipmentCounts>(sql`
    select count(*) filter (where answer = 'shipped')::int as shipped, count(*) filter (where answer = 'refused'
      and not reasons @> '[{"code":"unknown","near":[]}]')::int as refused
    from shipment s
    where s.plant_id = ${viewer.plantId} and s.at >= date_trunc('day', now() at time zone ${viewer.plantZone}) at time zone ${viewer.plantZone}`);
  return rows[0] ?? { shipped: 0, refused: 0 };
}
