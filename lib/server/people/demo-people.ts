import "server-only";
import type pg from "pg";
import { DEMO_SIGN_INS } from "../../schemas/demo-sign-ins";
import { unsafeHashDemoPassword } from "../auth/password";
import { insertPerson } from "./account-rows";

/** The one hash for all of them; takes 0.1 s, so compute it before the transaction. */
export const unsafeDemoPasswordHash = unsafeHashDemoPassword;

/**
 * Writes the people of the invented plant with their published sign-ins, each with a badge code `D1`, `D2` ... in the order
 * of the list.
 *
 * @returns the person's id by e-mail
 */
export async function unsafeInsertDemoPeople(
  db: pg.ClientBase,
  plantId: string,
  passwordHash: string,
): Promise<ReadonlyMap<string, string>> {
  const ids = new Map<string, string>();
  for (const [index, { email, name, roles }] of DEMO_SIGN_INS.entries()) {
    const account = { email, passwordHash };
    ids.set(email, await insertPerson(db, plantId, { name, roles, badgeCode: `D${index + 1}`, account }));
  }
  return ids;
}
