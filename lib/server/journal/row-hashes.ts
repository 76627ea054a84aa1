import "server-only";
import type pg from "pg";
import type { JournalSubject } from "./append-journal";
import { CANONICAL_VERSION, ShiftedArray } from "./canonical-json";
import { rowHash, VOUCHED_COLUMNS, VOUCHED_KEY, type VouchedTable } from "./vouched-rows";

/** Columns that are arrays, whose first index is read beside them: the driver forgets it. */
const ARRAY_COLUMNS: Partial<Record<VouchedTable, readonly string[]>> = {
  inspection: ["readings", "gauges", "gauge_keys", "states", "offsets_ms", "features"],
  decision: ["frame_ids"],
  drawing_revision: ["feature_names"],
  measuring_plan_revision: ["reading_names"],
};

type Row = Record<string, unknown>;

function withFirstIndices(row: Row, arrays: readonly string[]): Row {
  for (const column of arrays) {
    const [first, values] = [row[`${column}_from`], row[column]];
    if (typeof first === "number" && first !== 1 && Array.isArray(values))
      row[column] = new ShiftedArray(first, values);
  }
  return row;
}

/** Hash of each of some rows as they are now, by the spelling of a version; a row that is not there is absent. */
export async function readRowHashes(
  db: pg.ClientBase,
  plantId: string,
  table: VouchedTable,
  ids: readonly string[],
  version: number = CANONICAL_VERSION,
): Promise<Map<string, string>> {
  const key = VOUCHED_KEY[table];
  const arrays = ARRAY_COLUMNS[table] ?? [];
  const columns = [
    ...VOUCHED_COLUMNS[table],
    ...arrays.map((column) => `array_lower(${column}, 1) as ${column}_from`),
  ].join(", ");
  // Table and column names come from VOUCHED_COLUMNS, never from data.
  const { rows } = await db.query<Row>({
    text: `select ${columns} from ${table} where plant_id = $1 and ${key} = any($2::uuid[])`,
    values: [plantId, ids],
  });
  return new Map(rows.map((row) => [String(row[key]), rowHash(table, withFirstIndices(row, arrays), version)]));
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
