import "server-only";
import { createHash } from "node:crypto";
import type { TokenScope } from "../../schemas/token";
import type { TokenViewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { prepared, sql } from "../db/sql";

export const TOKEN_PREFIX = "sg_";
const TOKEN = /^sg_[A-Za-z0-9_-]{43}$/;

/** A revocation is seen by every process within this time, on top of the query itself. */
const CACHE_MS = 4_000;
const CACHE_TOKENS = 1_000;

/** What is stored of a token. It has 256 random bits, so one plain hash cannot be reversed. */
export function hashToken(token: string): Buffer {
  return createHash("sha256").update(token).digest();
}

type TokenRow = {
  readonly plant_id: string;
  readonly id: string;
  readonly name: string;
  readonly scopes: readonly TokenScope[];
  readonly expires_at: Date | null;
  readonly is_stale: boolean;
};
type Known = { readonly viewer: TokenViewer; readonly expiresAtMs: number } | null;
type Entry = { readonly readAtMs: number; readonly known: Promise<Known> };

const cache = new Map<string, Entry>();

/** Forgets what this process knows of tokens, so that a revocation here is seen at once. */
export function forgetTokens(): void {
  cache.clear();
}

async function readToken(hash: Buffer): Promise<Known> {
  const { rows } = await getPool().query<TokenRow>(
    prepared(
      "find-token",
      sql`select plant_id, id, name, scopes, expires_at,
          last_used_at is null or last_used_at < now() - interval '1 minute' as is_stale
        from api_token where token_hash = ${hash} and revoked_at is null and (expires_at is null or expires_at > now())`,
    ),
  );
  const row = rows[0];
  if (row === undefined) return null;
  if (row.is_stale) {
    await getPool().query(sql`update api_token set last_used_at = now()
      where plant_id = ${row.plant_id} and id = ${row.id}
        and (last_used_at is null or last_used_at < now() - interval '1 minute')`);
  }
  const viewer: TokenViewer = {
    kind: "token",
    plantId: row.plant_id,
    tokenId: row.id,
    name: row.name,
    scopes: row.scopes,
  };
  return { viewer, expiresAtMs: row.expires_at?.getTime() ?? Infinity };
}

function keep(key: string, entry: Entry): void {
  const oldest = cache.keys().next().value;
  if (cache.size >= CACHE_TOKENS && oldest !== undefined) cache.delete(oldest);
  cache.set(key, entry);
  // Neither an unknown token nor a failed look-up is remembered.
  const forget = () => {
    if (cache.get(key) === entry) cache.delete(key);
  };
  entry.known.then((known) => known ?? forget(), forget);
}

/**
 * The program that a token belongs to; null if it is unknown, revoked or expired. Found by the hash's index, so that time
 * tells nothing of a token; remembered for four seconds, since a station may send hundreds of readings in that time.
 */
export async function findTokenViewer(token: string, nowMs: number = Date.now()): Promise<TokenViewer | null> {
  if (!TOKEN.test(token)) return null;
  const hash = hashToken(token);
  const key = hash.toString("base64");
  let entry = cache.get(key);
  if (entry === undefined || nowMs - entry.readAtMs >= CACHE_MS) {
    cache.delete(key);
    entry = { readAtMs: nowMs, known: readToken(hash) };
    keep(key, entry);
  }
  const known = await entry.known;
  return known !== null && known.expiresAtMs > nowMs ? known.viewer : null;
}
