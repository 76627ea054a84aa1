import "server-only";
import type pg from "pg";
import { attachmentColumns } from "../db/columns/attachment";
import { journalEntryColumns } from "../db/columns/journal-entry";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { ANCHOR_CHAIN } from "./anchor-journal";
import { entryHash, type JournalSubject } from "./append-journal";
import { tablesVouchedFor } from "./begin-vouching";
import { readRowHashes } from "./row-hashes";
import { readUnvouchedRows } from "./unvouched-rows";
import type { JournalFault } from "./journal-fault";
import { checkStates } from "./verify-states";
import { LATER_TABLES, VOUCHED_COLUMNS, VOUCHED_KEY, type VouchedTable } from "./vouched-rows";

/** Years of journal are read page by page; no page of it takes this long. */
const LONGEST_STATEMENT_MS = 600_000;

export type JournalReport = {
  readonly entries: number;
  readonly rows: number;
  readonly chains: number;
  /** Hash of the newest anchor, hexadecimal; null where nothing was anchored yet. */
  readonly head: string | null;
  readonly faults: readonly JournalFault[];
};

const written = journalEntryColumns("journal_entry", [
  "chain",
  "sequence",
  "at",
  "actor",
  "action",
  "subjects",
  "payload",
  "previous",
  "hash",
  "canonical",
]);
type EntryRow = RowOf<typeof written> & { subjects: JournalSubject[] };

const attached = attachmentColumns("attachment", ["id", "name"]);

type ChainState = { sequence: bigint; head: Buffer };

const PAGE = 500;
const MOST_FAULTS = 100;
const EMPTY = Buffer.alloc(32);

/** Pages through one chain in the order of its entries. */
async function* readEntries(db: pg.ClientBase, plantId: string, chain: string): AsyncGenerator<EntryRow[]> {
  let after = "0";
  for (;;) {
    const { rows } = await db.query<EntryRow>(sql`
      select ${written} from journal_entry
      where plant_id = ${plantId} and chain = ${chain} and sequence > ${after} order by journal_entry.sequence limit ${PAGE}`);
    if (rows.length === 0) return;
    yield rows;
    after = rows.at(-1)?.sequence ?? after;
  }
}

async function checkSubjects(
  db: pg.ClientBase,
  plantId: string,
  entries: readonly EntryRow[],
  faults: JournalFault[],
): Promise<number> {
  type Vouched = {
    readonly table: VouchedTable;
    readonly canonical: number;
    rows: Map<string, { entry: EntryRow; hash: string }>;
  };
  const groups = new Map<string, Vouched>();
  for (const entry of entries)
    for (const { table, id, hash } of entry.subjects) {
      const { canonical } = entry;
      const key = `${table} ${canonical}`;
      const known = groups.get(key) ?? { table, canonical, rows: new Map() };
      known.rows.set(id, { entry, hash });
      groups.set(key, known);
    }
  let rows = 0;
  for (const { table, canonical, rows: subjects } of groups.values()) {
    if (!Object.hasOwn(VOUCHED_COLUMNS, table)) continue;
    const present = await readRowHashes(db, plantId, table, [...subjects.keys()], canonical);
    rows += subjects.size;
    for (const [id, { entry, hash }] of subjects) {
      const now = present.get(id);
      if (now === hash) continue;
      const what = now === undefined ? "was removed" : "was altered";
      faults.push({
        chain: entry.chain,
        sequence: entry.sequence,
        what: `${table} ${id} ${what} since "${entry.action}"`,
      });
    }
  }
  return rows;
}

function checkEntry(plantId: string, entry: EntryRow, state: ChainState, faults: JournalFault[]): void {
  const sequence = BigInt(entry.sequence);
  const fault = (what: string): void => void faults.push({ chain: entry.chain, sequence: entry.sequence, what });
  if (sequence !== state.sequence + 1n)
    fault(`entries ${state.sequence + 1n} to ${sequence - 1n} are missing before it`);
  else if (!entry.previous.equals(state.head))
    fault("does not follow the entry before it: one of them was altered or put elsewhere");
  const { chain, at, actor, action, subjects, payload } = entry;
  const hash = entryHash(
    { plantId, chain, at, actor, action, subjects, payload },
    sequence,
    entry.previous,
    entry.canonical,
  );
  if (!hash.equals(entry.hash)) fault("was altered: its content does not give its hash");
  state.sequence = sequence;
  state.head = entry.hash;
}

type Anchor = {
  readonly sequence: string;
  readonly hash: string;
  readonly heads: readonly { chain: string; length: string; head: string }[];
};

async function checkAnchors(db: pg.ClientBase, plantId: string, faults: JournalFault[]): Promise<Anchor[]> {
  const { rows: anchors } = await db.query<Anchor>(sql`
    select sequence::text, encode(hash, 'hex') as hash, payload -> 'heads' as heads from journal_entry
    where plant_id = ${plantId} and chain = ${ANCHOR_CHAIN} order by journal_entry.sequence`);
  const { rows: wrong } = await db.query<{ anchor: string; chain: string; length: string; found: boolean }>(sql`
    select a.sequence::text as anchor, h ->> 'chain' as chain, h ->> 'length' as length, e.hash is not null as found
    from journal_entry a cross join lateral jsonb_array_elements(a.payload -> 'heads') as h
    left join journal_entry e on e.plant_id = a.plant_id and e.chain = h ->> 'chain' and e.sequence = (h ->> 'length')::bigint
    where a.plant_id = ${plantId} and a.chain = ${ANCHOR_CHAIN} and encode(e.hash, 'hex') is distinct from h ->> 'head'`);
  for (const { anchor, chain, length, found } of wrong)
    faults.push({
      chain,
      sequence: length,
      what: found ? `is not the entry that anchor ${anchor} saw` : `is gone; anchor ${anchor} saw it: the tail was cut`,
    });
  return anchors;
}

/** Attachments whose bytes are not those of their hash, which the journal vouches for. */
async function checkAttachments(db: pg.ClientBase, plantId: string, faults: JournalFault[]): Promise<void> {
  const { rows } = await db.query<RowOf<typeof attached>>(sql`
    select ${attached} from attachment where plant_id = ${plantId} and sha256(bytes) <> content_hash order by id limit 100`);
  for (const { id, name } of rows)
    faults.push({
      chain: "-",
      sequence: null,
      what: `attachment ${id} (${name}) was altered: its bytes are not those of its hash`,
    });
}

async function checkChain(
  db: pg.ClientBase,
  plantId: string,
  chain: { readonly chain: string; readonly length: string; readonly head: Buffer },
  faults: JournalFault[],
  onProgress: (entries: number) => void,
): Promise<{ entries: number; rows: number }> {
  const state: ChainState = { sequence: 0n, head: EMPTY };
  let entries = 0;
  let rows = 0;
  for await (const page of readEntries(db, plantId, chain.chain)) {
    for (const entry of page) checkEntry(plantId, entry, state, faults);
    rows += await checkSubjects(db, plantId, page, faults);
    entries += page.length;
    onProgress(page.length);
  }
  if (state.sequence !== BigInt(chain.length) || !state.head.equals(chain.head))
    faults.push({
      chain: chain.chain,
      sequence: String(state.sequence),
      what: `is the last entry, but the chain says it has ${chain.length}: its end was cut or altered`,
    });
  return { entries, rows };
}

/** Rows of the vouched tables that no entry knows: written past Shellgate. */
async function checkUnvouched(db: pg.ClientBase, plantId: string, faults: JournalFault[]): Promise<void> {
  const begun = await tablesVouchedFor(db, plantId);
  const later: readonly string[] = LATER_TABLES.filter((table) => !begun.has(table));
  const tables = (Object.keys(VOUCHED_KEY) as VouchedTable[]).filter((table) => !later.includes(table));
  for (const { table, id } of await readUnvouchedRows(db, plantId, tables, { most: MOST_FAULTS }))
    faults.push({ chain: "-", sequence: null, what: `${table} ${id} is in no entry: it was written past the journal` });
}

/**
 * Checks the whole journal of a plant: every entry's hash and place, every row that an entry vouches for, every anchor, rows
 * that no entry knows. A tail cut together with its chain's head shows only against an anchor kept outside.
 *
 * @param options.anchor - hash of an anchor that was kept outside, hexadecimal
 * @returns every fault found, naming chain and entry
 */
export async function verifyJournal(
  plantId: string,
  options: { readonly anchor?: string; readonly onProgress?: (entries: number) => void } = {},
): Promise<JournalReport> {
  const verify = async (db: pg.ClientBase): Promise<JournalReport> => {
    await db.query("set transaction read only");
    const faults: JournalFault[] = [];
    const { rows: chains } = await db.query<{ chain: string; length: string; head: Buffer }>(sql`
      select coalesce(c.chain, e.chain) as chain, coalesce(c.length, 0)::text as length, coalesce(c.head, ${EMPTY}::bytea) as head
      from (select chain, length, head from journal_chain where plant_id = ${plantId}) c
      full join (select distinct chain from journal_entry where plant_id = ${plantId}) e using (chain)
      order by 1`);
    let entries = 0;
    let rows = 0;
    let done = 0;
    for (const chain of chains) {
      const checked = await checkChain(db, plantId, chain, faults, (more) => options.onProgress?.((done += more)));
      entries += checked.entries;
      rows += checked.rows;
    }
    const anchors = await checkAnchors(db, plantId, faults);
    rows += await checkStates(db, plantId, faults);
    await checkAttachments(db, plantId, faults);
    await checkUnvouched(db, plantId, faults);
    const wanted = options.anchor?.toLowerCase();
    if (wanted !== undefined && !anchors.some((anchor) => anchor.hash === wanted))
      faults.push({
        chain: ANCHOR_CHAIN,
        sequence: null,
        what: `the anchor ${wanted} that was kept outside is not in the journal: its tail was cut or all of it rewritten`,
      });
    return { entries, rows, chains: chains.length, head: anchors.at(-1)?.hash ?? null, faults };
  };
  return inSqlTransaction(verify, { isolation: "RepeatableRead", timeoutMs: LONGEST_STATEMENT_MS, attempts: 1 });
}
