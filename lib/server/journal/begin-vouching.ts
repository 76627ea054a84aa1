import "server-only";
import type pg from "pg";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain, type JournalSubject } from "./append-journal";
import { subjectsOf } from "./row-hashes";
import { readUnvouchedRows } from "./unvouched-rows";
import { LATER_TABLES } from "./vouched-rows";

/** The entry from which on every row of LATER_TABLES is in an entry. */
export const BEGINS_TO_VOUCH = "journal.vouches-for";

const CHAIN = "setup";
const MOST_ROWS = 1_000_000;

/** Whether the journal of the plant vouches for LATER_TABLES already. */
export async function hasBegunToVouch(db: pg.ClientBase | pg.Pool, plantId: string): Promise<boolean> {
  const { rows } = await db.query(sql`
    select 1 from journal_entry where plant_id = ${plantId} and chain = ${CHAIN} and action = ${BEGINS_TO_VOUCH} limit 1`);
  return rows.length > 0;
}

/**
 * Vouches once for the rows of LATER_TABLES that an earlier version wrote without an entry for them: as they are now, since
 * nobody can tell what they were. What is written past the journal from then on is found. A plant that has the entry is left
 * as it is.
 */
export async function beginVouching(plantId: string, at: Date = new Date()): Promise<void> {
  if (await hasBegunToVouch(getPool(), plantId)) return;
  await inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, CHAIN);
    if (await hasBegunToVouch(db, plantId)) return;
    const unvouched = await readUnvouchedRows(db, plantId, LATER_TABLES, { most: MOST_ROWS });
    const subjects: JournalSubject[] = [];
    for (const table of LATER_TABLES) {
      const ids = unvouched.filter((row) => row.table === table).map(({ id }) => id);
      subjects.push(...(await subjectsOf(db, plantId, table, ids)));
    }
    await appendToLockedChain(db, head, {
      plantId,
      chain: CHAIN,
      at,
      actor: "system",
      action: BEGINS_TO_VOUCH,
      subjects,
      payload: { tables: LATER_TABLES, earlier: subjects.length },
    });
  });
}
