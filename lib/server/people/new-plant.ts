import "server-only";
import { createHash, randomBytes } from "node:crypto";
import type pg from "pg";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { setUpPlantSchema, type SetUpPlant } from "../../schemas/sign-in";
import { hashNewPassword } from "../auth/password";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { parseInput } from "../base/parse-input";
import { insertPerson } from "./account-rows";
import { PEOPLE_WORDS } from "./words";

const texts = PEOPLE_WORDS.newPlant;

const LINK_HOURS = 24;

const hashOf = (token: string): Buffer => createHash("sha256").update(token).digest();

async function hasPlant(db: pg.ClientBase | pg.Pool): Promise<boolean> {
  const { rows } = await db.query("select 1 from plant limit 1");
  return rows.length > 0;
}

/**
 * Makes the one-time link by which the first administrator of an empty database signs up. Links made before stop working.
 *
 * @param origin - the address people type
 * @returns the link (its key is stored as a hash only), or null if there is a plant already
 */
export async function createSetUpLink(origin: string): Promise<string | null> {
  const token = randomBytes(32).toString("base64url");
  return inSqlTransaction(async (db) => {
    if (await hasPlant(db)) return null;
    await db.query("delete from setup_link");
    await db.query(sql`insert into setup_link (token_hash, expires_at)
      values (${hashOf(token)}, now() + make_interval(hours => ${LINK_HOURS}))`);
    return new URL(`/new-plant/${token}`, origin).href;
  });
}

/** Whether a set-up link still works. */
export async function isOpenSetUpLink(token: string): Promise<boolean> {
  const { rows } = await getPool().query(sql`select 1 from setup_link
    where token_hash = ${hashOf(token)} and used_at is null and expires_at > now()
      and not exists (select 1 from plant)`);
  return rows.length > 0;
}

function keyOf(name: string): string {
  const plain = name.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  const key = plain.replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
  return key === "" ? "plant" : key.slice(0, 40);
}

async function useLink(db: pg.ClientBase, token: string): Promise<void> {
  const { rowCount } = await db.query(sql`update setup_link set used_at = now()
    where token_hash = ${hashOf(token)} and used_at is null and expires_at > now()`);
  if (rowCount === 1 && !(await hasPlant(db))) return;
  const words = texts.setUpLinkWasUsed;
  throw new AppError("refused", words);
}

/**
 * Creates the plant and its first administrator, who is an engineer too, so that drawings and plans can be made before
 * anybody else is there.
 *
 * @throws AppError invalid-input; refused if the link is used, expired or unknown
 */
export async function setUpPlant(input: SetUpPlant): Promise<{ readonly plantId: string; readonly personId: string }> {
  const { token, plantName, timeZone, name, email, password } = parseInput(setUpPlantSchema, input);
  const passwordHash = await hashNewPassword(password);
  return inSqlTransaction(async (db) => {
    await useLink(db, token);
    const plantId = uuidV7();
    await db.query(sql`insert into plant (id, key, name, time_zone, invented)
      values (${plantId}, ${keyOf(plantName)}, ${plantName}, ${timeZone}, false)`);
    const roles = ["administrator", "engineer"] as const;
    const personId = await insertPerson(db, plantId, { name, roles, account: { email, passwordHash } });
    const payload = { plantName, timeZone, personId, name, roles };
    const at = new Date();
    await appendJournal(db, {
      plantId,
      chain: "people",
      at,
      actor: "system",
      action: "plant.set-up",
      subjects: [],
      payload,
    });
    return { plantId, personId };
  });
}
