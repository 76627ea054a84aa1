import "server-only";
import type pg from "pg";
import { AppError } from "../../errors";
import {
  changeBadgeSchema,
  changeOwnPasswordSchema,
  changeRolesSchema,
  correctPersonSchema,
  createPersonSchema,
  deactivatePersonSchema,
  giveSignInSchema,
  setPasswordSchema,
  type ChangeBadge,
  type ChangeOwnPassword,
  type ChangeRoles,
  type CorrectPerson,
  type CreatePerson,
  type DeactivatePerson,
  type GiveSignIn,
  type Role,
  type SetPassword,
} from "../../schemas/people";
import { hashNewPassword } from "../auth/password";
import { assertMay, assertPerson } from "../auth/permissions";
import { assertOwnPassword } from "../auth/signature";
import { actorOf, type Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { authUserColumns } from "../db/columns/auth-user";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { forgetReferenceData } from "../evidence/reference-data";
import { appendJournal } from "../journal/append-journal";
import { parseInput } from "../base/parse-input";
import { asTaken, insertAccount, insertPerson, replaceRoles } from "./account-rows";
import { changeOrAsk, hasOtherAdministrator, overtake } from "./role-requests";
import { PEOPLE_WORDS } from "./words";

const texts = PEOPLE_WORDS.commands;

async function journal(db: pg.ClientBase, viewer: Viewer, action: string, payload: unknown): Promise<void> {
  const { plantId } = viewer;
  await appendJournal(db, {
    plantId,
    chain: "people",
    at: new Date(),
    actor: actorOf(viewer),
    action,
    subjects: [],
    payload,
  });
}

const lockedPerson = personColumns("p", {
  name: "name",
  badge_code: "badgeCode",
  active: "active",
  user_id: "userId",
});
const signIn = authUserColumns("auth_user", ["email"]);

type PersonRow = RowOf<typeof lockedPerson> & { roles: readonly Role[] };

/** Reads somebody and keeps changes of people in this plant in order until the transaction ends. */
async function lockPerson(db: pg.ClientBase, plantId: string, personId: string): Promise<PersonRow> {
  await db.query(sql`select 1 from plant where id = ${plantId} for update`);
  const { rows } = await db.query<PersonRow>(sql`
    select ${lockedPerson}, array(select role::text from person_role r
      where r.plant_id = p.plant_id and r.person_id = p.id order by r.role) as roles
    from person p where plant_id = ${plantId} and id = ${personId}`);
  if (rows[0] === undefined) throw new AppError("not-found", texts.isNoSuchPerson);
  return rows[0];
}

/** Remembers to whom some codes belonged until now: readings that arrive later are by them. */
async function rememberCodes(
  db: pg.ClientBase,
  plantId: string,
  personId: string,
  codes: readonly (string | null)[],
): Promise<void> {
  await db.query(sql`
    insert into former_badge (plant_id, code, until, person_id)
    select ${plantId}, code, clock_timestamp(), ${personId} from unnest(${codes}::text[]) as code where code is not null`);
}

async function assertAnotherAdministrator(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  personId: string,
): Promise<void> {
  if (await hasOtherAdministrator(db, plantId, personId)) return;
  const words = texts.isLastAdministrator;
  throw new AppError("refused", words);
}

/**
 * Adds somebody with roles, and with a sign-in if an account is given.
 * @throws AppError forbidden; invalid-input; conflict if the e-mail or the badge code is taken
 */
export async function createPerson(viewer: Viewer, input: CreatePerson): Promise<{ readonly personId: string }> {
  assertMay(viewer, "people.manage");
  const { account, ...person } = parseInput(createPersonSchema, input);
  const withHash = account && { email: account.email, passwordHash: await hashNewPassword(account.password) };
  return inSqlTransaction(async (db) => {
    const personId = await insertPerson(db, viewer.plantId, { ...person, account: withHash });
    const { name, roles } = person;
    await journal(db, viewer, "person.created", { personId, name, roles, canSignIn: account !== undefined });
    return { personId };
  });
}

/**
 * Gives somebody these roles instead of those there were. Takes effect with the person's next request. Of an administrator's own
 * roles it asks for the password; where there is another administrator, the change stands until that one confirms it.
 *
 * @returns "asked" where it waits for another administrator
 * @throws AppError forbidden, not-found, refused (nobody would be left), sign-in-refused, invalid-input
 */
export async function changeRoles(viewer: Viewer, input: ChangeRoles): Promise<"changed" | "asked"> {
  assertMay(viewer, "people.manage");
  const { personId, roles, password = "" } = parseInput(changeRolesSchema, input);
  const { plantId } = viewer;
  const own = viewer.kind === "person" && viewer.personId === personId ? viewer : null;
  if (own !== null) {
    if (!roles.includes("administrator")) await assertAnotherAdministrator(getPool(), plantId, personId);
    await assertOwnPassword(own, password, "Your own roles are changed with your password only. Nothing was changed.");
  }
  return inSqlTransaction(async (db) => {
    const { roles: before } = await lockPerson(db, plantId, personId);
    if (!roles.includes("administrator")) await assertAnotherAdministrator(db, plantId, personId);
    if (own !== null) return changeOrAsk(db, own, { before, roles });
    await overtake(db, plantId, personId);
    await replaceRoles(db, plantId, personId, roles);
    await journal(db, viewer, "person.roles-changed", { personId, before, after: roles });
    return "changed";
  });
}

/** Ends somebody's access and all their sessions; the person stays in the records. */
export async function deactivatePerson(viewer: Viewer, input: DeactivatePerson): Promise<void> {
  assertMay(viewer, "people.manage");
  const { personId } = parseInput(deactivatePersonSchema, input);
  await inSqlTransaction(async (db) => {
    const person = await lockPerson(db, viewer.plantId, personId);
    if (!person.active) throw new AppError("conflict", texts.personIsDeactivatedAlready);
    await assertAnotherAdministrator(db, viewer.plantId, personId);
    await rememberCodes(db, viewer.plantId, personId, [person.badge_code, personId]);
    await db.query(sql`update person set active = false, badge_code = null
      where plant_id = ${viewer.plantId} and id = ${personId}`);
    await db.query(sql`delete from auth_session where user_id = ${person.user_id}`);
    await journal(db, viewer, "person.deactivated", { personId, name: person.name, badgeCode: person.badge_code });
  });
  forgetReferenceData(viewer.plantId);
}

/**
 * Gives somebody a new password and ends all their sessions; for the viewer's own there is changeOwnPassword.
 *
 * @throws AppError forbidden, not-found, refused (no sign-in, deactivated, or the viewer's own), invalid-input
 */
export async function setPassword(viewer: Viewer, input: SetPassword): Promise<void> {
  assertMay(viewer, "people.manage");
  const { personId, newPassword } = parseInput(setPasswordSchema, input);
  if (viewer.kind === "person" && viewer.personId === personId)
    throw new AppError("refused", texts.yourOwnPasswordIsChanged);
  const passwordHash = await hashNewPassword(newPassword);
  await inSqlTransaction(async (db) => {
    const person = await lockPerson(db, viewer.plantId, personId);
    if (!person.active || person.user_id === null) throw new AppError("refused", texts.doesNotSignIn(person.name));
    await db.query(sql`update auth_account set password = ${passwordHash}, updated_at = now()
      where user_id = ${person.user_id} and provider_id = 'credential'`);
    await db.query(sql`delete from auth_session where user_id = ${person.user_id}`);
    await journal(db, viewer, "person.password-set", { personId, name: person.name });
  });
}

/**
 * Gives somebody who had a badge only a sign-in.
 *
 * @throws AppError forbidden, not-found, refused (not active, or signs in already), conflict (the e-mail is taken), invalid-input
 */
export async function giveSignIn(viewer: Viewer, input: GiveSignIn): Promise<void> {
  assertMay(viewer, "people.manage");
  const { personId, email, password } = parseInput(giveSignInSchema, input);
  const passwordHash = await hashNewPassword(password);
  await inSqlTransaction(async (db) => {
    const person = await lockPerson(db, viewer.plantId, personId);
    if (!person.active) throw new AppError("refused", texts.isNotActive(person.name));
    if (person.user_id !== null) throw new AppError("refused", texts.signsInAlready(person.name));
    try {
      const userId = await insertAccount(db, person.name, { email, passwordHash });
      await db.query(sql`update person set user_id = ${userId}
        where plant_id = ${viewer.plantId} and id = ${personId}`);
    } catch (error) {
      throw asTaken(error, "Nothing was changed.");
    }
    await journal(db, viewer, "person.sign-in-given", { personId, name: person.name });
  });
}

/**
 * Gives somebody another badge code, or takes it away. An own badge is changed with the password only: it says who measured.
 *
 * @throws AppError forbidden, not-found, refused (deactivated), conflict (somebody else's badge), sign-in-refused
 */
export async function changeBadge(viewer: Viewer, input: ChangeBadge): Promise<void> {
  assertMay(viewer, "people.manage");
  const { personId, badgeCode, password = "" } = parseInput(changeBadgeSchema, input);
  if (viewer.kind === "person" && viewer.personId === personId)
    await assertOwnPassword(
      viewer,
      password,
      "Your own badge is changed with your password only. Nothing was changed.",
    );
  await inSqlTransaction(async (db) => {
    const person = await lockPerson(db, viewer.plantId, personId);
    if (!person.active) throw new AppError("refused", texts.isNotActive(person.name));
    const next = badgeCode === "" ? null : badgeCode;
    if (next === person.badge_code) return;
    await rememberCodes(db, viewer.plantId, personId, [person.badge_code]);
    try {
      await db.query(sql`update person set badge_code = ${next}
        where plant_id = ${viewer.plantId} and id = ${personId}`);
    } catch (error) {
      throw asTaken(error, "Nothing was changed.");
    }
    await journal(db, viewer, "person.badge-changed", {
      personId,
      name: person.name,
      badgeCode,
      before: person.badge_code,
    });
  });
  forgetReferenceData(viewer.plantId);
}

/**
 * Puts somebody's name or e-mail right. Records made before keep the name as it was then; who is signed in stays so. An own name is
 * changed with the password only: it stands under decisions.
 *
 * @throws AppError forbidden, not-found, refused (deactivated, or an e-mail without a sign-in), conflict (the e-mail is taken),
 *   sign-in-refused, invalid-input
 */
export async function correctPerson(viewer: Viewer, input: CorrectPerson): Promise<void> {
  assertMay(viewer, "people.manage");
  const { personId, name, email, password = "" } = parseInput(correctPersonSchema, input);
  const { plantId } = viewer;
  if (viewer.kind === "person" && viewer.personId === personId)
    await assertOwnPassword(viewer, password, "Your own name is changed with your password only. Nothing was changed.");
  await inSqlTransaction(async (db) => {
    const person = await lockPerson(db, plantId, personId);
    if (!person.active) throw new AppError("refused", texts.isNotActive(person.name));
    if (email !== undefined && person.user_id === null)
      throw new AppError("refused", texts.doesNotSignInPerson(person.name));
    const { rows } = await db.query<RowOf<typeof signIn>>(
      sql`select ${signIn} from auth_user where id = ${person.user_id}`,
    );
    const oldEmail = rows[0]?.email ?? null;
    const newEmail = email ?? oldEmail;
    if (name === person.name && newEmail === oldEmail) return;
    await db.query(sql`insert into former_identity (plant_id, person_id, until, name, email)
      values (${plantId}, ${personId}, clock_timestamp(), ${person.name}, ${newEmail === oldEmail ? null : oldEmail})`);
    await db.query(sql`update person set name = ${name} where plant_id = ${plantId} and id = ${personId}`);
    try {
      await db.query(sql`update auth_user set name = ${name}, email = ${newEmail}, updated_at = now()
        where id = ${person.user_id}`);
    } catch (error) {
      throw asTaken(error, "Nothing was changed.");
    }
    await journal(db, viewer, "person.corrected", {
      personId,
      before: { name: person.name },
      after: { name },
      isEmailChanged: newEmail !== oldEmail,
    });
  });
  forgetReferenceData(plantId);
}

/**
 * Changes the viewer's own password and ends all their sessions, this one too: whoever knew the old one is out.
 * @throws AppError sign-in-refused if the current password is not right; too-many-requests
 */
export async function changeOwnPassword(viewer: Viewer, input: ChangeOwnPassword): Promise<void> {
  assertPerson(viewer);
  const { currentPassword, newPassword } = parseInput(changeOwnPasswordSchema, input);
  const account = await assertOwnPassword(
    viewer,
    currentPassword,
    "The current password is not right. Nothing was changed.",
  );
  const passwordHash = await hashNewPassword(newPassword);
  await inSqlTransaction(async (db) => {
    const { rowCount } = await db.query(sql`update auth_account set password = ${passwordHash}, updated_at = now()
      where id = ${account.id} and password = ${account.hash}`);
    if (rowCount === 0) throw new AppError("conflict", texts.passwordWasChangedMeanwhile);
    await db.query(sql`delete from auth_session where user_id = ${account.userId}`);
    await journal(db, viewer, "person.password-changed", { personId: viewer.personId });
  });
}
