import "server-only";
import type pg from "pg";
import { journalChainColumns } from "../db/columns/journal-chain";
import type { RowOf } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import { CANONICAL_VERSION, canonicalJson, contentHash, Written } from "./canonical-json";
import type { VouchedTable } from "./vouched-rows";
import { subjectsWritten, type StateSubject } from "./written-rows";

/** A row that never changes, which an entry vouches for by its hash. */
export type JournalSubject = { readonly table: VouchedTable; readonly id: string; readonly hash: string };

export type JournalDraft = {
  readonly plantId: string;
  /** "line:KEY", "gate", "gauges", "setup", "people", "access" or "anchor". */
  readonly chain: string;
  readonly at: Date;
  /** "person:ID", "token:ID", "system", or "visitor" for somebody whom no sign-in names. */
  readonly actor: string;
  readonly action: string;
  readonly subjects: readonly JournalSubject[];
  /**
   * Rows that change and that this transaction has written, where the caller knows them all; otherwise they are asked of the
   * database (written-rows.ts).
   */
  readonly states?: readonly StateSubject[];
  readonly payload: unknown;
};

export type ChainHead = { readonly length: bigint; readonly head: Buffer };

const EMPTY_HEAD = Buffer.alloc(32);

type HashedEntry = Omit<JournalDraft, "subjects" | "states" | "payload"> & {
  readonly subjects: unknown;
  readonly payload: unknown;
};

/**
 * Hash of an entry: over everything it says and the hash of the entry before it.
 *
 * @param version - of the canonical spelling of the rows it vouches for
 */
export function entryHash(
  draft: HashedEntry,
  sequence: bigint,
  previous: Uint8Array,
  version: number = CANONICAL_VERSION,
): Buffer {
  const { plantId, chain, at, actor, action, subjects, payload } = draft;
  const said = [plantId, chain, sequence, at, actor, action, subjects, payload, previous];
  return contentHash(version === 1 ? said : [version, ...said]);
}

const newest = journalChainColumns("journal_chain", ["length", "head"]);

/**
 * Locks one chain of the journal to the end of the transaction and gives its newest entry. Everything that is recorded on
 * one line takes this lock first, which puts the writers of that line, and of no other, in order.
 */
export async function lockChain(db: pg.ClientBase, plantId: string, chain: string): Promise<ChainHead> {
  const head = await lockKnownChain(db, plantId, chain);
  if (head !== null) return head;
  await db.query(sql`
    insert into journal_chain (plant_id, chain, length, head) values (${plantId}, ${chain}, 0, ${EMPTY_HEAD})
    on conflict do nothing`);
  return lockChain(db, plantId, chain);
}

/** The same; null where nothing was ever written to the chain, which then is not locked. */
export async function lockKnownChain(db: pg.ClientBase, plantId: string, chain: string): Promise<ChainHead | null> {
  const found = await db.query<RowOf<typeof newest>>(
    prepared(
      "lock-chain",
      sql`select ${newest} from journal_chain where plant_id = ${plantId} and chain = ${chain} for update`,
    ),
  );
  const row = found.rows[0];
  return row ? { length: BigInt(row.length), head: row.head } : null;
}

/** Appends an entry to a chain that this transaction has locked, and gives the new newest one. */
export async function appendToLockedChain(
  db: pg.ClientBase,
  head: ChainHead,
  draft: JournalDraft,
): Promise<ChainHead & { readonly sequence: bigint }> {
  const states = draft.states ?? (await subjectsWritten(db, draft.plantId));
  const { newest, written } = sendEntry(db, head, { ...draft, states });
  await written;
  if (!UNTOLD.has(draft.chain)) await tellOpenScreens(db, draft);
  return newest;
}

/** Chains of which no screen lives: who signed in, and the anchors of the journal itself. */
const UNTOLD: ReadonlySet<string> = new Set(["access", "anchor"]);

/** Tells every open screen, with the commit, that something was done; what is recorded on a line tells of itself. */
async function tellOpenScreens(db: pg.ClientBase, { plantId, at }: JournalDraft): Promise<void> {
  const message = canonicalJson({ plant: plantId, line: null, at });
  await db.query(prepared("tell-act", sql`select pg_notify('shellgate_live', ${message})`));
}

/**
 * The same where the caller knows what the entry vouches for: what the newest entry will be is known at once.
 *
 * @returns newest, which counts once `written` is fulfilled
 */
export function sendEntry(
  db: pg.ClientBase,
  head: ChainHead,
  draft: JournalDraft & { readonly states: readonly StateSubject[] },
): { readonly newest: ChainHead & { readonly sequence: bigint }; readonly written: Promise<unknown> } {
  const sequence = head.length + 1n;
  const { states } = draft;
  const [subjects, payload] = [new Written([...draft.subjects, ...states]), new Written(draft.payload)];
  const hash = entryHash({ ...draft, subjects, payload }, sequence, head.head);
  const written = db.query(
    prepared(
      "append-journal",
      sql`with entry as (
        insert into journal_entry (plant_id, chain, sequence, at, actor, action, subjects, payload, previous, hash, canonical)
        values (${draft.plantId}, ${draft.chain}, ${sequence}, ${draft.at}, ${draft.actor}, ${draft.action},
          ${subjects.text}::jsonb, ${payload.text}::jsonb, ${head.head}, ${hash}, ${CANONICAL_VERSION}))
      update journal_chain set length = ${sequence}, head = ${hash}
      where plant_id = ${draft.plantId} and chain = ${draft.chain}`,
    ),
  );
  return { newest: { length: sequence, head: hash, sequence }, written };
}

/** Appends one entry within the caller's transaction. */
export async function appendJournal(db: pg.ClientBase, draft: JournalDraft): Promise<void> {
  await appendToLockedChain(db, await lockChain(db, draft.plantId, draft.chain), draft);
}
