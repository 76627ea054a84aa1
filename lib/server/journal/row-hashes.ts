import "server-only";
import type pg from "pg";
import type { JournalSubject } from "./append-journal";
import { rowHash, VOUCHED_COLUMNS, VOUCHED_KEY, type VouchedTable } from "./vouched-rows";

/** Hash of each of some rows as they are now; a row that is not there is absent. */
export async function readRowHashes(
  db: pg.ClientBase,
  plantId: string,
  table: VouchedTable,
  ids: readonly string[],
): Promise<Map<string, string>> {
  const key = VOUCHED_KEY[table];
  const columns = VOUCHED_COLUMNS[table].join(", ");
  // Table and column names come from VOUCHED_COLUMNS, never from data.
  const { rows } = await db.query<Record<string, unknown>>({
    text: `select ${columns} from ${table} where plant_id = $1 and ${key} = any($2::uuid[])`,
    values: [plantId, ids],
  });
  return new Map(rows.map((row) => [String(row[key]), rowHash(table, row)]));
}

/** Rows that this transaction has written, as an entry of it vouches for them. */
export async function subjectsOf(
  db: pg.ClientBase,
  plantId: string,
  table: VouchedTable,
  ids: readonly string[],
): Promise<JournalSubject[]> {
  return [...(await readRowHashes(db, plantId, table, ids))].map(([id, hash]) => ({ table, id, hash }));
}
