import "server-only";
import type pg from "pg";
import { isStateTable, stateHash, stateSelect, tableOf, type StateTable } from "./vouched-states";

/** A row that changes, by the hash of what an entry left it as; the highest order is the newest. */
export type StateSubject = {
  readonly table: StateTable;
  readonly id: string;
  readonly hash: string;
  readonly order: number;
};

/** What STATE_COLUMNS says of a row, with the place of this vouching. */
export type StateRow = Readonly<Record<string, unknown>> & { readonly id: string; readonly vouching_order: string };

export const stateSubject = (table: StateTable, row: StateRow): StateSubject => ({
  table,
  id: row.id,
  hash: stateHash(table, row),
  order: Number(row.vouching_order),
});

/**
 * Rows as they are now, for an entry that vouches for them. They have to be locked, or written by this transaction: the
 * order says which of two entries saw them later.
 */
export async function stateSubjectsOf(
  db: pg.ClientBase,
  plantId: string,
  table: StateTable,
  ids: readonly string[],
): Promise<StateSubject[]> {
  // Table and column names come from STATE_COLUMNS, never from data.
  const { rows } = await db.query<StateRow>({
    text: `select ${stateSelect(table)}, nextval('vouching_order') as vouching_order
      from ${tableOf(table)} r where r.plant_id = $1 and r.id = any($2::uuid[])`,
    values: [plantId, ids],
  });
  return rows.map((row) => stateSubject(table, row));
}

/**
 * The rows that this transaction has written since its last entry, as the triggers of the database have noted them: whoever
 * writes them, its entry vouches for what they are now.
 */
export async function subjectsWritten(db: pg.ClientBase, plantId: string): Promise<StateSubject[]> {
  const { rows } = await db.query<{ written: string | null; emptied: string }>(
    `with noted as materialized (select current_setting('shellgate.written', true) as written)
     select written, set_config('shellgate.written', '', true) as emptied from noted`,
  );
  const byTable = new Map<StateTable, Set<string>>();
  for (const noted of (rows[0]?.written ?? "").split(",")) {
    const [table = "", id] = noted.split(":");
    if (id === undefined || !isStateTable(table)) continue;
    const known = byTable.get(table);
    if (known) known.add(id);
    else byTable.set(table, new Set([id]));
  }
  const subjects: StateSubject[] = [];
  for (const [table, ids] of byTable) subjects.push(...(await stateSubjectsOf(db, plantId, table, [...ids])));
  return subjects;
}
