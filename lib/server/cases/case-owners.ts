import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";

/** Whether a person `p` may look after a case: who works at the line or answers for it. */
export const mayOwnCases = sql`p.active and exists (select from person_role r
  where r.plant_id = p.plant_id and r.person_id = p.id and r.role::text = any('{engineer,inspector}'))`;

const owner = personColumns("p", ["id", "name"]);

/** Who may look after a case: people of the plant who work at it or answer for it. */
export async function listCaseOwners(viewer: Viewer): Promise<readonly RowOf<typeof owner>[]> {
  assertMay(viewer, "drift.manage-cases");
  const { rows } = await getPool().query<RowOf<typeof owner>>(sql`
    select ${owner} from person p where p.plant_id = ${viewer.plantId} and ${mayOwnCases} order by p.name, p.id`);
  return rows;
}
