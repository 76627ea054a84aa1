import "server-only";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { log } from "../base/log";
import { countInWindow, LONGEST_WINDOW_MS, sweepTries } from "./tries";
import { actorOf, type PersonViewer } from "./viewer";

/** The chain of the journal that holds who came in, who was kept out and who left. */
export const ACCESS_CHAIN = "access";
/** The actor of an entry about somebody whom no sign-in names. */
export const VISITOR = "visitor";

/** Why somebody was kept out. */
export type AccessRefusal =
  "wrong password" | "no such sign-in" | "deactivated" | "demo sign-in from the network" | "too many tries";

/** Refusals an hour that are written one by one, of each person and of everybody whom no sign-in names; then they are counted. */
const WRITTEN_AN_HOUR = 30;

/** Of whom refusals are counted: `refused PLANT PERSON`, or `refused PLANT -`. */
const refusalsKey = (plantId: string, personId: string | null): string => `refused ${plantId} ${personId ?? "-"}`;

/** Says of past hours how many refusals were counted and not written. */
export async function writeCounted(): Promise<void> {
  for (const { key, count } of await sweepTries()) {
    const [kind, plantId, personId] = key.split(" ");
    const unwritten = count - WRITTEN_AN_HOUR;
    if (kind !== "refused" || plantId === undefined || unwritten <= 0) continue;
    const payload = { reason: "many more", unwritten, personId: personId === "-" ? null : personId };
    await write(plantId, VISITOR, "sign-in-refused", payload);
  }
}

/** Whether one more refusal is written down: nobody fills the journal from outside. */
async function isWritten(plantId: string, personId: string | null): Promise<boolean> {
  await writeCounted();
  const key = refusalsKey(plantId, personId);
  return (await countInWindow({ key, most: WRITTEN_AN_HOUR, windowMs: LONGEST_WINDOW_MS })) <= WRITTEN_AN_HOUR;
}

const known = personColumns("p", { plantId: "plantId", personId: "id", active: "active" });
type Known = RowOf<typeof known>;
const everyPlant = plantColumns("plant", ["id"]);

/** The person whom an e-mail belongs to, with or without access; null if nobody. */
export async function findPersonByEmail(email: string): Promise<Known | null> {
  const { rows } = await getPool().query<Known>(sql`
    select ${known} from auth_user u join person p on p.user_id = u.id
    where u.email = lower(${email}) order by p.active desc, p.created_at, p.plant_id limit 1`);
  return rows[0] ?? null;
}

async function write(plantId: string, actor: string, action: string, payload: unknown): Promise<void> {
  await inSqlTransaction((db) =>
    appendJournal(db, { plantId, chain: ACCESS_CHAIN, at: new Date(), actor, action, subjects: [], payload }),
  );
}

/** Somebody came in. `address` is null where only this machine can ask. */
export async function journalSignedIn(person: Known, address: string | null): Promise<void> {
  await write(person.plantId, `person:${person.personId}`, "signed-in", { address });
}

export async function journalSignedOut(viewer: PersonViewer, address: string | null): Promise<void> {
  await write(viewer.plantId, actorOf(viewer), "signed-out", { address });
}

/**
 * Somebody was kept out. An e-mail that belongs to nobody is not written down (people type passwords into the wrong field),
 * and stands in the journal of every plant that it could have been meant for. Beyond thirty an hour they are counted only, and
 * the count is written when the hour is over and the next one comes.
 */
export async function journalSignInRefused(
  email: string,
  address: string | null,
  why: AccessRefusal | null,
): Promise<void> {
  const person = await findPersonByEmail(email);
  const reason = why ?? (person === null ? "no such sign-in" : person.active ? "wrong password" : "deactivated");
  log.info("sign-in refused", { address, reason });
  const { rows } =
    person === null
      ? await getPool().query<RowOf<typeof everyPlant>>(sql`select ${everyPlant} from plant order by id`)
      : { rows: [] };
  const plants = person === null ? rows.map((row) => row.id) : [person.plantId];
  for (const plantId of plants)
    if (await isWritten(plantId, person?.personId ?? null))
      await write(plantId, VISITOR, "sign-in-refused", { address, reason, personId: person?.personId ?? null });
}

/** A signed-in person, or somebody at their screen, typed a wrong password where it was asked for once more. */
export async function journalSignatureRefused(viewer: PersonViewer, reason: AccessRefusal): Promise<void> {
  if (await isWritten(viewer.plantId, viewer.personId))
    await write(viewer.plantId, actorOf(viewer), "signature-refused", { reason });
}

/** A token was used for the first time, or one that no longer lets in was tried. */
export async function journalToken(
  plantId: string,
  tokenId: string,
  what:
    | { readonly action: "token.first-used" }
    | { readonly action: "token.refused"; readonly reason: "revoked" | "expired" },
): Promise<void> {
  const { action, ...payload } = what;
  await write(plantId, `token:${tokenId}`, action, payload);
}
