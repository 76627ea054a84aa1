import "server-only";
import { AppError } from "../../errors";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { isPassword } from "./password";
import { assertPerson } from "./permissions";
import type { PersonViewer, Viewer } from "./viewer";

/**
 * A signature: the person types the password once more, at the decision itself. Takes about 0.1 s: before a transaction.
 *
 * @throws AppError forbidden for programs; sign-in-refused when the password is wrong
 */
export async function assertSigned(viewer: Viewer, password: string): Promise<PersonViewer> {
  assertPerson(viewer);
  const { rows } = await getPool().query<{ password: string | null }>(sql`
    select a.password from person p join auth_account a on a.user_id = p.user_id and a.provider_id = 'credential'
    where p.plant_id = ${viewer.plantId} and p.id = ${viewer.personId} and p.active`);
  const hash = rows[0]?.password;
  if (hash && (await isPassword(hash, password))) return viewer;
  throw new AppError("sign-in-refused", "That is not your password: nothing was signed and nothing was changed.", {
    fields: [{ path: "password", message: "is not your password" }],
  });
}
