import "server-only";
import type pg from "pg";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { decideRoleRequestSchema, type DecideRoleRequest, type Role } from "../../schemas/people";
import { assertMay, assertPerson } from "../auth/permissions";
import { assertOwnPassword } from "../auth/signature";
import { actorOf, type PersonViewer, type Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { parseInput } from "../base/parse-input";
import { replaceRoles } from "./account-rows";
import { PEOPLE_WORDS } from "./words";

const words = PEOPLE_WORDS.roleRequests;

/** What somebody did to other administrators counts so long: who made a second one, or removed one, is not two. Common practice, no source. */
const RECENT_HOURS = 24;
/** A request that nobody decided on for so long is made anew. Common practice, no source. */
const STANDS_DAYS = 7;

/** A change of own roles that waits for another administrator. */
export type RoleRequested = {
  readonly id: string;
  readonly personId: string;
  readonly name: string;
  readonly before: readonly Role[];
  readonly roles: readonly Role[];
  readonly requestedAt: string;
};

const asking = personColumns("p", ["name"]);

/** Requests that stand, oldest first. */
export async function listRoleRequests(viewer: Viewer): Promise<readonly RoleRequested[]> {
  assertMay(viewer, "people.view");
  const { rows } = await getPool().query<
    RowOf<typeof asking> & Omit<RoleRequested, "requestedAt" | "name"> & { requestedAt: Date }
  >(sql`
    select q.id, q.person_id as "personId", ${asking}, q.roles::text[] as roles, q.requested_at as "requestedAt",
      array(select role::text from person_role r where r.plant_id = p.plant_id and r.person_id = p.id order by r.role) as before
    from role_request q join person p on p.plant_id = q.plant_id and p.id = q.person_id and p.active
    where q.plant_id = ${viewer.plantId} and q.state = 'open'
      and q.requested_at > now() - make_interval(days => ${STANDS_DAYS}) order by q.requested_at`);
  return rows.map((row) => ({ ...row, requestedAt: row.requestedAt.toISOString() }));
}

/** Whether somebody else could confirm: another administrator who can sign in. */
export async function hasOtherAdministrator(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  personId: string,
): Promise<boolean> {
  const { rows } = await db.query(sql`
    select 1 from person p join person_role r on r.plant_id = p.plant_id and r.person_id = p.id
    where p.plant_id = ${plantId} and p.id <> ${personId} and p.active and p.user_id is not null
      and r.role = 'administrator' limit 1`);
  return rows.length > 0;
}

/** Who took the other administrators away is not alone because of it. */
async function assertNotAloneByOwnHand(db: pg.ClientBase, viewer: PersonViewer): Promise<void> {
  const { rows } = await db.query(sql`
    select 1 from journal_entry e where e.plant_id = ${viewer.plantId} and e.chain = 'people' and e.actor = ${actorOf(viewer)}
      and e.at > now() - make_interval(hours => ${RECENT_HOURS}) and e.payload ->> 'personId' <> ${viewer.personId}
      and ((e.action = 'person.roles-changed' and e.payload -> 'before' ? 'administrator' and not e.payload -> 'after' ? 'administrator')
        or (e.action = 'person.deactivated' and exists (select 1 from person_role r
          where r.plant_id = e.plant_id and r.person_id::text = e.payload ->> 'personId' and r.role = 'administrator'))) limit 1`);
  if (rows.length === 0) return;
  throw new AppError("refused", words.youTookAnotherAdministratorAway(RECENT_HOURS));
}

/** Who got the sign-in, the password or the role from the requester lately is the requester's own hand. */
async function assertNotMadeBy(db: pg.ClientBase, viewer: PersonViewer, requesterId: string): Promise<void> {
  const { rows } = await db.query(sql`
    select 1 from journal_entry e where e.plant_id = ${viewer.plantId} and e.chain = 'people'
      and e.actor = ${`person:${requesterId}`} and e.at > now() - make_interval(hours => ${RECENT_HOURS})
      and e.payload ->> 'personId' = ${viewer.personId}
      and (e.action in ('person.created', 'person.password-set', 'person.sign-in-given')
        or (e.action = 'person.roles-changed' and e.payload -> 'after' ? 'administrator')) limit 1`);
  if (rows.length === 0) return;
  throw new AppError("refused", words.youGotYourSignIn(RECENT_HOURS));
}

type Asked = { readonly before: readonly Role[]; readonly roles: readonly Role[] };

/**
 * Changes the roles of the administrator who asks, where there is no other one; else lets the change stand until another
 * one confirms it. The password was checked before.
 *
 * @returns "changed", or "asked" where it waits
 */
export async function changeOrAsk(
  db: pg.ClientBase,
  viewer: PersonViewer,
  { before, roles }: Asked,
): Promise<"changed" | "asked"> {
  const { plantId, personId } = viewer;
  const entry = { plantId, chain: "people", at: new Date(), actor: actorOf(viewer), subjects: [] };
  await overtake(db, plantId, personId);
  if (await hasOtherAdministrator(db, plantId, personId)) {
    const id = uuidV7();
    await db.query(sql`insert into role_request (plant_id, id, person_id, roles)
      values (${plantId}, ${id}, ${personId}, ${roles}::text[]::"Role"[])`);
    await appendJournal(db, {
      ...entry,
      action: "person.roles-asked",
      payload: { id, personId, before, after: roles },
    });
    return "asked";
  }
  await assertNotAloneByOwnHand(db, viewer);
  await replaceRoles(db, plantId, personId, roles);
  await appendJournal(db, { ...entry, action: "person.roles-changed", payload: { personId, before, after: roles } });
  return "changed";
}

/** A request that stands is overtaken by any other change of the same person's roles. */
export async function overtake(db: pg.ClientBase, plantId: string, personId: string): Promise<void> {
  await db.query(sql`update role_request set state = 'overtaken', decided_at = now()
    where plant_id = ${plantId} and person_id = ${personId} and state = 'open'`);
}

/**
 * Confirms or refuses what another administrator asked for, signed with the password; who asked may take it back.
 *
 * @throws AppError forbidden, sign-in-refused, not-found (decided or overtaken meanwhile), refused
 */
export async function decideRoleRequest(viewer: Viewer, input: DecideRoleRequest): Promise<void> {
  assertMay(viewer, "people.manage");
  assertPerson(viewer);
  const { id, decision, password } = parseInput(decideRoleRequestSchema, input);
  await assertOwnPassword(viewer, password, "That is not your password. Nothing was changed.");
  const { plantId } = viewer;
  await inSqlTransaction(async (db) => {
    await db.query(sql`select 1 from plant where id = ${plantId} for update`);
    const { rows } = await db.query<{ personId: string; roles: Role[]; before: Role[] }>(sql`
      select q.person_id as "personId", q.roles::text[] as roles,
        array(select role::text from person_role r where r.plant_id = q.plant_id and r.person_id = q.person_id order by r.role) as before
      from role_request q join person p on p.plant_id = q.plant_id and p.id = q.person_id and p.active
      where q.plant_id = ${plantId} and q.id = ${id} and q.state = 'open'
        and q.requested_at > now() - make_interval(days => ${STANDS_DAYS})`);
    const asked = rows[0];
    if (!asked) throw new AppError("not-found", words.requestDoesNotStandAny);
    const isOwn = asked.personId === viewer.personId;
    if (isOwn && decision === "confirm") throw new AppError("refused", words.youAskedFor);
    if (decision === "confirm") {
      await assertNotMadeBy(db, viewer, asked.personId);
      if (!asked.roles.includes("administrator") && !(await hasOtherAdministrator(db, plantId, asked.personId)))
        throw new AppError("refused", words.thenNobodyCouldManagePeople);
      await replaceRoles(db, plantId, asked.personId, asked.roles);
    }
    const state = decision === "confirm" ? "confirmed" : isOwn ? "withdrawn" : "refused";
    await db.query(sql`update role_request set state = ${state}, decided_by_id = ${viewer.personId}, decided_at = now()
      where plant_id = ${plantId} and id = ${id}`);
    const { personId, before, roles: after } = asked;
    await appendJournal(db, {
      plantId,
      chain: "people",
      at: new Date(),
      actor: actorOf(viewer),
      action: decision === "confirm" ? "person.roles-changed" : `person.roles-${state}`,
      subjects: [],
      payload: { request: id, personId, before, after },
    });
  });
}
