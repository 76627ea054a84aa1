import "server-only";
import type pg from "pg";
import { tablesVouchedFor } from "./begin-vouching";
import type { JournalFault } from "./journal-fault";
import { isStateTable, stateHash, stateSelect, STATE_TABLES, tableOf, type StateTable } from "./vouched-states";

const PAGE = 1_000;
const MOST_FAULTS = 100;

type Newest = {
  readonly table: string;
  readonly id: string;
  readonly hash: string;
  readonly chain: string;
  readonly sequence: string;
  readonly action: string;
  readonly canonical: number;
};

/** The newest entry that vouches for each row that changes, in the order of tables and rows. */
const NEWEST = `
  select distinct on (s ->> 'table', s ->> 'id') s ->> 'table' as "table", s ->> 'id' as id, s ->> 'hash' as hash,
    e.chain, e.sequence::text as sequence, e.action, e.canonical
  from journal_entry e cross join lateral jsonb_array_elements(e.subjects) as s
  where e.plant_id = $1 and s ? 'order'
  order by s ->> 'table', s ->> 'id', (s ->> 'order')::bigint desc`;

const WORDS: Readonly<Record<StateTable, string>> = {
  frame_state: "frame",
  batch_state: "batch",
  setting_ring_state: "setting ring",
  gauge_state: "gauge",
  person_state: "person or roles of person",
  drawing_revision_state: "state of drawing revision",
  measuring_plan_revision_state: "state of plan revision",
};

async function checkPage(
  db: pg.ClientBase,
  plantId: string,
  table: StateTable,
  page: readonly Newest[],
  faults: JournalFault[],
): Promise<void> {
  // Table and column names come from STATE_COLUMNS, never from data.
  const { rows } = await db.query<Record<string, unknown>>({
    text: `select ${stateSelect(table)} from ${tableOf(table)} r where r.plant_id = $1 and r.id = any($2::uuid[])`,
    values: [plantId, page.map(({ id }) => id)],
  });
  const present = new Map(rows.map((row) => [String(row["id"]), row]));
  for (const { id, hash, chain, sequence, action, canonical } of page) {
    const row = present.get(id);
    if (row !== undefined && stateHash(table, row, canonical) === hash) continue;
    const what = row === undefined ? "was removed" : "was altered";
    faults.push({ chain, sequence, what: `${WORDS[table]} ${id} ${what} since "${action}"` });
  }
}

/** Rows that change and that no entry knows: written past Shellgate. */
async function checkUnknown(db: pg.ClientBase, plantId: string, faults: JournalFault[]): Promise<void> {
  const begun = await tablesVouchedFor(db, plantId);
  const tables = STATE_TABLES.filter((table) => begun.has(table));
  if (tables.length === 0) return;
  const present = tables.map((table) => `select '${table}' as "table", id from ${tableOf(table)} where plant_id = $1`);
  const { rows } = await db.query<{ table: StateTable; id: string }>({
    text: `(${present.join(" union all ")})
      except select s ->> 'table', (s ->> 'id')::uuid from journal_entry e cross join lateral jsonb_array_elements(e.subjects) as s
        where e.plant_id = $1 and s ? 'order' limit ${MOST_FAULTS}`,
    values: [plantId],
  });
  for (const { table, id } of rows)
    faults.push({
      chain: "-",
      sequence: null,
      what: `${WORDS[table]} ${id} is in no entry: it was written past the journal`,
    });
}

/**
 * Compares each row that changes with what the newest entry about it left it as. Rows that an earlier version wrote count
 * from the entry of begin-vouching.ts on.
 *
 * @returns how many rows the journal vouches for
 */
export async function checkStates(db: pg.ClientBase, plantId: string, faults: JournalFault[]): Promise<number> {
  let checked = 0;
  await db.query({ text: `declare newest_states no scroll cursor for ${NEWEST}`, values: [plantId] });
  for (;;) {
    const { rows } = await db.query<Newest>(`fetch ${PAGE} from newest_states`);
    if (rows.length === 0) break;
    checked += rows.length;
    for (const table of STATE_TABLES) {
      const page = rows.filter((row) => isStateTable(row.table) && row.table === table);
      if (page.length > 0) await checkPage(db, plantId, table, page, faults);
    }
  }
  await db.query("close newest_states");
  await checkUnknown(db, plantId, faults);
  return checked;
}
