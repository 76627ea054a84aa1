import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { iso } from "../plant/queries";

export type JournalItem = {
  readonly chain: string;
  readonly sequence: string;
  readonly at: string;
  readonly actor: string;
  readonly action: string;
  readonly rows: number;
  readonly payload: unknown;
  readonly hash: string;
  /** Whom the entry is about, where it names a person. */
  readonly about: string | null;
};

export type JournalPage = {
  readonly head: string | null;
  readonly anchoredAt: string | null;
  readonly entries: number;
  /** Every chain but the anchors, with the number of its entries. */
  readonly chains: readonly { readonly chain: string; readonly length: number }[];
  readonly newest: readonly JournalItem[];
};

/** Which entries: of one chain only, and of that one only those before a number. */
export type JournalWanted = {
  readonly chain?: string | undefined;
  readonly before?: number | undefined;
  readonly limit?: number;
};

const MOST_ENTRIES = 500;

/** The newest entries of the journal and its newest anchor, of which a copy belongs outside. */
export async function getJournal(viewer: Viewer, wanted: JournalWanted = {}): Promise<JournalPage> {
  assertMay(viewer, "journal.view");
  const { plantId } = viewer;
  const { chain = null, before = null, limit = 100 } = wanted;
  const pool = getPool();
  const [newest, anchor, chains] = await Promise.all([
    pool.query<Omit<JournalItem, "at"> & { at: Date }>(sql`
      select e.chain, e.sequence::text as sequence, e.at, coalesce(p.name, t.name, e.actor) as actor, e.action,
        jsonb_array_length(e.subjects) as rows, e.payload, encode(e.hash, 'hex') as hash, about.name as about
      from journal_entry e
      left join person p on p.plant_id = e.plant_id and e.actor = 'person:' || p.id
      left join api_token t on t.plant_id = e.plant_id and e.actor = 'token:' || t.id
      left join person about on about.plant_id = e.plant_id and e.payload ->> 'personId' = about.id::text
      where e.plant_id = ${plantId} and e.chain <> 'anchor' and (${chain}::text is null or e.chain = ${chain})
        and (${chain}::text is null or ${before}::bigint is null or e.sequence < ${before})
      order by e.at desc, e.chain, e.sequence desc limit ${Math.min(limit, MOST_ENTRIES)}`),
    pool.query<{ hash: string; at: Date }>(sql`
      select encode(hash, 'hex') as hash, at from journal_entry
      where plant_id = ${plantId} and chain = 'anchor' order by sequence desc limit 1`),
    pool.query<{ chain: string; length: number }>(
      sql`select chain, length::int as length from journal_chain where plant_id = ${plantId} order by chain`,
    ),
  ]);
  return {
    head: anchor.rows[0]?.hash ?? null,
    anchoredAt: iso(anchor.rows[0]?.at ?? null),
    entries: chains.rows.reduce((sum, one) => sum + one.length, 0),
    chains: chains.rows.filter((one) => one.chain !== "anchor" && one.length > 0),
    newest: newest.rows.map((row) => ({ ...row, at: row.at.toISOString() })),
  };
}
