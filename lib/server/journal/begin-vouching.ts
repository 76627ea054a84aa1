import "server-only";
import type pg from "pg";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain, type JournalSubject } from "./append-journal";
import { subjectsOf } from "./row-hashes";
import { readUnvouchedRows } from "./unvouched-rows";
import { LATER_TABLES } from "./vouched-rows";
import { STATE_TABLES, tableOf, type StateTable } from "./vouched-states";
import { stateSubjectsOf } from "./written-rows";

/** The entry from which on every row of the tables that it names is in an entry. */
export const BEGINS_TO_VOUCH = "journal.vouches-for";

/** Entries of the same rows as they were found before that one. */
const FOUND = "journal.rows-found";

const CHAIN = "setup";
const MOST_ROWS = 1_000_000;
const ROWS_AN_ENTRY = 1_000;

type Begun = { readonly tables: readonly string[] };

/** The tables for which the journal of the plant vouches already, of those that an earlier version left out. */
export async function tablesVouchedFor(db: pg.ClientBase | pg.Pool, plantId: string): Promise<ReadonlySet<string>> {
  const { rows } = await db.query<Begun>(sql`
    select payload -> 'tables' as tables from journal_entry
    where plant_id = ${plantId} and chain = ${CHAIN} and action = ${BEGINS_TO_VOUCH}`);
  return new Set(rows.flatMap(({ tables }) => tables));
}

const systemEntry = (plantId: string, at: Date, action: string) =>
  ({ plantId, chain: CHAIN, at, actor: "system", action }) as const;

/** Rows that never change and that no entry knows. */
async function vouchForEarlierRows(plantId: string, at: Date): Promise<void> {
  await inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, CHAIN);
    const begun = await tablesVouchedFor(db, plantId);
    const missing = LATER_TABLES.filter((table) => !begun.has(table));
    if (missing.length === 0) return;
    const unvouched = await readUnvouchedRows(db, plantId, missing, { most: MOST_ROWS });
    const subjects: JournalSubject[] = [];
    for (const table of missing) {
      const ids = unvouched.filter((row) => row.table === table).map(({ id }) => id);
      subjects.push(...(await subjectsOf(db, plantId, table, ids)));
    }
    await appendToLockedChain(db, head, {
      ...systemEntry(plantId, at, BEGINS_TO_VOUCH),
      subjects,
      payload: { tables: missing, earlier: subjects.length },
    });
  });
}

/**
 * Vouches for the next rows of a table after one, as they are. They are locked, so that what is written of one meanwhile
 * comes either before or after.
 *
 * @returns the last one; null where there are no more
 */
async function vouchForNext(plantId: string, table: StateTable, after: string, at: Date): Promise<string | null> {
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query<{ id: string }>({
      text: `select id from ${tableOf(table)} where plant_id = $1 and id > $2 order by id limit ${ROWS_AN_ENTRY} for share`,
      values: [plantId, after],
    });
    const last = rows.at(-1);
    if (!last) return null;
    const ids = rows.map(({ id }) => id);
    const states = await stateSubjectsOf(db, plantId, table, ids);
    const head = await lockChain(db, plantId, CHAIN);
    const payload = { table, rows: states.length };
    await appendToLockedChain(db, head, { ...systemEntry(plantId, at, FOUND), subjects: [], states, payload });
    return last.id;
  });
}

const FIRST = "00000000-0000-0000-0000-000000000000";

/** Rows that change, in parts, since a plant may have a million frames; a start that was killed half way begins again. */
async function vouchForEarlierStates(plantId: string, at: Date): Promise<void> {
  const begun = await tablesVouchedFor(getPool(), plantId);
  const missing = STATE_TABLES.filter((table) => !begun.has(table));
  if (missing.length === 0) return;
  for (const table of missing) {
    let after: string | null = FIRST;
    while (after !== null) after = await vouchForNext(plantId, table, after, at);
  }
  await inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, CHAIN);
    const known = await tablesVouchedFor(db, plantId);
    const tables = missing.filter((table) => !known.has(table));
    if (tables.length > 0)
      await appendToLockedChain(db, head, {
        ...systemEntry(plantId, at, BEGINS_TO_VOUCH),
        subjects: [],
        states: [],
        payload: { tables },
      });
  });
}

/**
 * Vouches once for the rows that an earlier version wrote without an entry for them: as they are now, since nobody can tell
 * what they were. What is written past the journal from then on is found. A plant that has the entries is left as it is.
 */
export async function beginVouching(plantId: string, at: Date = new Date()): Promise<void> {
  await vouchForEarlierRows(plantId, at);
  await vouchForEarlierStates(plantId, at);
}
