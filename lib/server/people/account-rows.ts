import "server-only";
import type pg from "pg";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import type { Role } from "../../schemas/people";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { sql } from "../db/sql";
import { PEOPLE_WORDS } from "./words";

const words = PEOPLE_WORDS.accountRows;

export type NewPerson = {
  readonly name: string;
  readonly roles: readonly Role[];
  readonly badgeCode?: string | undefined;
  readonly account?: { readonly email: string; readonly passwordHash: string } | undefined;
};

/** Writes a sign-in. @returns the id of its user */
export async function insertAccount(
  db: pg.ClientBase,
  name: string,
  account: NonNullable<NewPerson["account"]>,
): Promise<string> {
  const userId = uuidV7();
  await db.query(sql`insert into auth_user (id, name, email, email_verified, updated_at)
    values (${userId}, ${name}, ${account.email}, false, now())`);
  await db.query(sql`insert into auth_account (id, account_id, provider_id, user_id, password, updated_at)
    values (${uuidV7()}, ${userId}, 'credential', ${userId}, ${account.passwordHash}, now())`);
  return userId;
}

/** Writes the roles that somebody has from now on, instead of those there were. */
export async function replaceRoles(
  db: pg.ClientBase,
  plantId: string,
  personId: string,
  roles: readonly Role[],
): Promise<void> {
  await db.query(sql`delete from person_role where plant_id = ${plantId} and person_id = ${personId}`);
  await db.query(sql`insert into person_role (plant_id, person_id, role)
    select ${plantId}, ${personId}, role::"Role" from unnest(${roles}::text[]) as role`);
}

/** What was taken already, in words; anything else as it is. */
export function asTaken(error: unknown, kept = "Nobody was added."): unknown {
  const refusal = readDatabaseRefusal(error);
  if (refusal?.kind !== "unique") return error;
  const isBadge = refusal.constraint?.includes("badge") ?? false;
  const path = isBadge ? "badgeCode" : "email";
  const message = isBadge ? words.isSomebodyElses : words.alreadyHasSignIn;
  const subject = isBadge ? words.badgeCode : words.eMail;
  return new AppError("conflict", `${subject} ${message}. ${kept}`, {
    fields: [{ path, message }],
    cause: error,
  });
}

/** Writes a person with roles, and a sign-in if there is one. @throws AppError conflict if e-mail or badge are taken */
export async function insertPerson(db: pg.ClientBase, plantId: string, person: NewPerson): Promise<string> {
  const personId = uuidV7();
  try {
    const userId = person.account === undefined ? null : await insertAccount(db, person.name, person.account);
    await db.query(sql`insert into person (plant_id, id, name, badge_code, user_id)
      values (${plantId}, ${personId}, ${person.name}, ${person.badgeCode ?? null}, ${userId})`);
  } catch (error) {
    throw asTaken(error);
  }
  await replaceRoles(db, plantId, personId, person.roles);
  return personId;
}
