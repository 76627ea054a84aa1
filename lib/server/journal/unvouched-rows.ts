import "server-only";
import type pg from "pg";
import { FINAL_ROWS, VOUCHED_KEY, type VouchedTable } from "./vouched-rows";

/** Rows of some tables that no entry of the journal knows. */
export async function readUnvouchedRows(
  db: pg.ClientBase,
  plantId: string,
  tables: readonly VouchedTable[],
  { most }: { readonly most: number },
): Promise<readonly { readonly table: VouchedTable; readonly id: string }[]> {
  const present = tables.map(
    (table) =>
      `select '${table}' as "table", ${VOUCHED_KEY[table]} as id from ${table} where plant_id = $1 and ${FINAL_ROWS[table] ?? "true"}`,
  );
  // Table and column names come from VOUCHED_KEY, never from data.
  const { rows } = await db.query<{ table: VouchedTable; id: string }>({
    text: `with vouched as materialized (
        select s ->> 'table' as "table", (s ->> 'id')::uuid as id
        from journal_entry e cross join lateral jsonb_array_elements(e.subjects) as s where e.plant_id = $1)
      (${present.join(" union all ")}) except select "table", id from vouched limit $2`,
    values: [plantId, most],
  });
  return rows;
}
