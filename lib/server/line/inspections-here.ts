import "server-only";
import { notWithdrawn } from "../db/columns/inspection";
import { sql, type Statement } from "../db/sql";

/**
 * Valid inspections of a frame `f` at the operation of a station, to be part of a query: what was measured at another operation,
 * or before a rework, leaves the frame to be measured here.
 */
export function inspectionsHere(plantId: string, stationId: string): Statement {
  return sql`case when f.inspections = 0 then 0 else (
    select count(*)::int from inspection i
    where i.plant_id = f.plant_id and i.frame_id = f.id
      and i.operation_id = (select operation_id from station where plant_id = ${plantId} and id = ${stationId})
      and (f.evidence_from is null or i.measured_at > f.evidence_from)
      and ${notWithdrawn}) end`;
}
