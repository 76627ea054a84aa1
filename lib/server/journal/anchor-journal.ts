import "server-only";
import { journalChainColumns } from "../db/columns/journal-chain";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "./append-journal";

export const ANCHOR_CHAIN = "anchor";

const grown = journalChainColumns("journal_chain", ["chain", "length"]);
type Head = RowOf<typeof grown> & { readonly head: string };

/**
 * Ties the chains of a plant into one head: an entry of the anchor chain that names the newest entry of every other chain.
 * Writes nothing when no chain has grown since the last one.
 *
 * @returns the hash of the newest anchor, hexadecimal: keep a copy outside, only so can a cut tail be seen
 */
export async function anchorJournal(plantId: string, at: Date = new Date()): Promise<string> {
  return inSqlTransaction(async (db) => {
    const anchor = await lockChain(db, plantId, ANCHOR_CHAIN);
    const { rows: heads } = await db.query<Head>(sql`
      select ${grown}, encode(head, 'hex') as head from journal_chain
      where plant_id = ${plantId} and chain <> ${ANCHOR_CHAIN} and length > 0 order by chain`);
    const { rows: last } = await db.query<{ heads: readonly Head[] }>(sql`
      select payload -> 'heads' as heads from journal_entry
      where plant_id = ${plantId} and chain = ${ANCHOR_CHAIN} order by sequence desc limit 1`);
    const known = new Map(last[0]?.heads.map((head) => [head.chain, head.head]));
    if (last.length > 0 && heads.every((head) => known.get(head.chain) === head.head))
      return anchor.head.toString("hex");
    const written = await appendToLockedChain(db, anchor, {
      plantId,
      chain: ANCHOR_CHAIN,
      at,
      actor: "system",
      action: "journal.anchored",
      subjects: [],
      payload: { heads },
    });
    return written.head.toString("hex");
  });
}
