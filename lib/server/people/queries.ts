import "server-only";
import type { Role } from "../../schemas/people";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { authUserColumns } from "../db/columns/auth-user";
import { personColumns } from "../db/columns/person";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";

export type PersonListed = {
  readonly personId: string;
  readonly name: string;
  readonly email: string | null;
  readonly badgeCode: string | null;
  readonly active: boolean;
  readonly roles: readonly Role[];
};

const MOST_PEOPLE = 500;
const listed = together(
  personColumns("p", { personId: "id", name: "name", badgeCode: "badgeCode", active: "active" }),
  orNull(authUserColumns("u", ["email"])),
);

/** People of the plant by name, the active ones first; 500 at most. */
export async function listPeople(viewer: Viewer): Promise<readonly PersonListed[]> {
  assertMay(viewer, "people.view");
  const { rows } = await getPool().query<RowOf<typeof listed> & Pick<PersonListed, "roles">>(sql`
    select ${listed},
      array(select role::text from person_role r
        where r.plant_id = p.plant_id and r.person_id = p.id order by r.role) as roles
    from person p left join auth_user u on u.id = p.user_id
    where p.plant_id = ${viewer.plantId} order by p.active desc, p.name, p.id limit ${MOST_PEOPLE}`);
  return rows;
}

/** Whether this is a plant of invented people and numbers; false while there is no plant. */
export async function unsafeIsInventedPlant(): Promise<boolean> {
  const { rows } = await getPool().query(sql`select 1 from plant where invented limit 1`);
  return rows.length > 0;
}
