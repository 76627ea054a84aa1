import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { journalChainColumns } from "../db/columns/journal-chain";
import { journalEntryColumns } from "../db/columns/journal-entry";
import type { RowOf } from "../db/columns/table-columns";
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

/** Place of an entry in the list of all, newest first. */
export type JournalPlace = { readonly at: string; readonly chain: string; readonly sequence: string };

export type JournalPage = {
  readonly head: string | null;
  readonly anchoredAt: string | null;
  readonly entries: number;
  /** Every chain but the anchors, with the number of its entries. */
  readonly chains: readonly { readonly chain: string; readonly length: number }[];
  readonly newest: readonly JournalItem[];
  /** Where older ones may follow: after the last one shown, or after the last one searched. */
  readonly next: JournalPlace | null;
  /** The moment back to which was searched, where the search ended before the list did. */
  readonly searchedTo: string | null;
  /** Who can be asked for by name. */
  readonly actors: readonly { readonly actor: string; readonly name: string }[];
};

/** Which entries; what is left away does not narrow. */
export type JournalWanted = {
  readonly chain?: string | undefined;
  /** Only what is older than this place. */
  readonly before?: JournalPlace | undefined;
  /** "person:UUID", "token:UUID" or "system". */
  readonly actor?: string | undefined;
  /** Part of what an entry says: a serial, a batch, a gauge, a name, a word of what happened. */
  readonly text?: string | undefined;
  /** First and last day by the plant's calendar, as YYYY-MM-DD. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  readonly limit?: number;
};

const SHOWN_ENTRIES = 50;
const MOST_ENTRIES = 500;

/** Entries that one search reads: what is further back is searched by the next press. */
export const MOST_SEARCHED = 20_000;

const shown = journalEntryColumns("e", ["chain", "sequence", "at", "action", "payload"]);
type Row = RowOf<typeof shown> & Pick<JournalItem, "actor" | "rows" | "hash" | "about">;

const place = journalEntryColumns("e", ["chain", "sequence", "at"]);
type Searched = RowOf<typeof place> & { readonly searched: number };

const anchored = journalEntryColumns("journal_entry", ["at"]);
const lengthOfChain = journalChainColumns("journal_chain", ["chain"]);

const placeOf = ({ at, chain, sequence }: Searched | Row): JournalPlace => ({ at: at.toISOString(), chain, sequence });

/** The entries wanted, of the newest that one search reads, and how far those reach. */
async function search(plantId: string, zone: string, wanted: JournalWanted, limit: number) {
  const { chain = null, before, actor = null, text = null, from = null, to = null } = wanted;
  const narrows = actor !== null || text !== null;
  const read = sql`
    select e.chain, e.sequence, e.at, e.actor, e.action, e.subjects, e.payload, e.hash from journal_entry e
    where e.plant_id = ${plantId} and e.chain <> 'anchor' and (${chain}::text is null or e.chain = ${chain})
      and (${from}::date is null or e.at >= ${from}::date::timestamp at time zone ${zone})
      and (${to}::date is null or e.at < (${to}::date + 1)::timestamp at time zone ${zone})
      and (${before?.at ?? null}::timestamptz is null or e.at <= ${before?.at ?? null}::timestamptz)
      and (${before?.at ?? null}::timestamptz is null or e.at < ${before?.at ?? null}::timestamptz
        or e.chain > ${before?.chain ?? null} or (e.chain = ${before?.chain ?? null} and e.sequence < ${before?.sequence ?? null}::bigint))
    order by e.at desc, e.chain, e.sequence desc limit ${narrows ? MOST_SEARCHED : limit}`;
  const found = sql`
    select ${shown}, coalesce(${nameThen("p", "e.at")}, t.name, e.actor) as actor, jsonb_array_length(e.subjects) as rows,
      encode(e.hash, 'hex') as hash, ${nameThen("about", "e.at")} as about
    from (${read}) e
    left join person p on p.plant_id = ${plantId} and e.actor = 'person:' || p.id
    left join api_token t on t.plant_id = ${plantId} and e.actor = 'token:' || t.id
    left join person about on about.plant_id = ${plantId} and e.payload ->> 'personId' = about.id::text
    where (${actor}::text is null or e.actor = ${actor})
      and (${text}::text is null or position(lower(${text}::text) in lower(concat_ws(' ', e.payload::text,
        translate(e.action, '.-', '  '), p.name, t.name, about.name))) > 0)
    order by e.at desc, e.chain, e.sequence desc limit ${limit}`;
  const last = sql`
    select ${place}, (count(*) over ())::int as searched from (${read}) e
    order by e.at, e.chain desc, e.sequence limit 1`;
  const pool = getPool();
  const [entries, ends] = await Promise.all([
    pool.query<Row>(found),
    narrows ? pool.query<Searched>(last) : { rows: [] as Searched[] },
  ]);
  const [lastShown, end] = [entries.rows.at(-1), ends.rows[0]];
  const isFull = entries.rows.length === limit;
  const endsEarly = !isFull && end !== undefined && end.searched === MOST_SEARCHED;
  return {
    rows: entries.rows,
    next: isFull && lastShown !== undefined ? placeOf(lastShown) : endsEarly ? placeOf(end) : null,
    searchedTo: endsEarly ? end.at.toISOString() : null,
  };
}

/** The newest entries of the journal that are wanted, and its newest anchor, of which a copy belongs outside. */
export async function getJournal(viewer: Viewer, wanted: JournalWanted = {}): Promise<JournalPage> {
  assertMay(viewer, "journal.view");
  const { plantId, plantZone } = viewer;
  const pool = getPool();
  const [{ rows, next, searchedTo }, anchor, chains, actors] = await Promise.all([
    search(plantId, plantZone, wanted, Math.min(wanted.limit ?? SHOWN_ENTRIES, MOST_ENTRIES)),
    pool.query<RowOf<typeof anchored> & { hash: string }>(sql`
      select encode(hash, 'hex') as hash, ${anchored} from journal_entry
      where plant_id = ${plantId} and chain = 'anchor' order by sequence desc limit 1`),
    pool.query<RowOf<typeof lengthOfChain> & { length: number }>(
      sql`select ${lengthOfChain}, length::int as length from journal_chain where plant_id = ${plantId} order by chain`,
    ),
    pool.query<{ actor: string; name: string }>(sql`
      select 'person:' || id as actor, name from person where plant_id = ${plantId}
      union all select 'token:' || id, name || ', token' from api_token where plant_id = ${plantId}
      order by name, actor`),
  ]);
  return {
    head: anchor.rows[0]?.hash ?? null,
    anchoredAt: iso(anchor.rows[0]?.at ?? null),
    entries: chains.rows.reduce((sum, one) => sum + one.length, 0),
    chains: chains.rows.filter((one) => one.chain !== "anchor" && one.length > 0),
    newest: rows.map((row) => ({ ...row, at: row.at.toISOString() })),
    next,
    searchedTo,
    actors: actors.rows,
  };
}
