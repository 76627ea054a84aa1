import "server-only";
import { randomInt } from "node:crypto";
import type pg from "pg";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { randomChoice } from "@/lib/core/sampling/random-choice";
import { mayDo } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { frameColumns } from "../db/columns/frame";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, type ChainHead, lockChain } from "../journal/append-journal";
import { contentHash } from "../journal/canonical-json";

/** Chain of the journal that keeps the drawn samples. */
export const SAMPLES_CHAIN = "samples";
const SEEDS = 2 ** 47;
const sampled = frameColumns("frame", ["serial"]);

type Sampled = { readonly id: string; readonly key: string; readonly size: number };

/** Serials drawn for a batch by its sample's size; null where none were drawn yet. */
export async function findDrawn(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batch: Pick<Sampled, "key" | "size">,
): Promise<readonly string[] | null> {
  const { rows } = await db.query<{ serials: string[] }>(sql`
    select payload -> 'serials' as serials from journal_entry
    where plant_id = ${plantId} and chain = ${SAMPLES_CHAIN} and payload ->> 'batch' = ${batch.key}
      and (payload ->> 'size')::int = ${batch.size}
    order by sequence limit 1`);
  return rows[0]?.serials ?? null;
}

/**
 * Serials of a batch that its plan asks for, drawn at random when somebody who measures first opens the batch. The draw is
 * an entry of the journal: the list by its hash, the seed and the serials, so that anybody can draw them again. Once drawn
 * they stand; another size of sample is drawn anew.
 *
 * @returns null where nothing is drawn yet and the viewer only looks
 */
export async function drawSample(
  viewer: Viewer,
  batch: Sampled,
  now: Date = new Date(),
  seed: number = randomInt(SEEDS),
): Promise<readonly string[] | null> {
  const { plantId } = viewer;
  const known = await findDrawn(getPool(), plantId, batch);
  if (known !== null || !mayDo(viewer, "line.lease")) return known;
  return inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, SAMPLES_CHAIN);
    const drawn = await findDrawn(db, plantId, batch);
    return drawn ?? (await drawOn(db, head, viewer, batch, { now, seed })).serials;
  });
}

/**
 * Draws on the locked chain, where nothing was drawn yet.
 *
 * @param how.states - rows that change and that this transaction has written; asked of the database where they are left out
 */
export async function drawOn(
  db: pg.ClientBase,
  head: ChainHead,
  viewer: Viewer,
  batch: Sampled,
  how: { readonly now: Date; readonly seed?: number; readonly states?: readonly [] },
): Promise<{ readonly serials: readonly string[]; readonly head: ChainHead }> {
  const { plantId } = viewer;
  const { now, seed = randomInt(SEEDS), states } = how;
  const { rows } = await db.query<RowOf<typeof sampled>>(sql`
    select ${sampled} from frame where plant_id = ${plantId} and batch_id = ${batch.id} order by position, id`);
  const list = rows.map(({ serial }) => serial);
  const chosen = randomChoice(list.length, Math.min(batch.size, list.length), createSeededGenerator(seed));
  const serials = chosen.flatMap((place) => list[place] ?? []);
  const newest = await appendToLockedChain(db, head, {
    plantId,
    chain: SAMPLES_CHAIN,
    at: now,
    actor: actorOf(viewer),
    action: "sample.drawn",
    subjects: [],
    ...(states === undefined ? {} : { states }),
    payload: {
      batch: batch.key,
      frames: list.length,
      list: contentHash(list).toString("hex"),
      size: batch.size,
      seed,
      serials,
    },
  });
  return { serials, head: newest };
}
