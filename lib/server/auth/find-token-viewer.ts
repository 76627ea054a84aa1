import "server-only";
import { createHash } from "node:crypto";
import { journalToken } from "./access-journal";
import type { TokenViewer } from "./viewer";
import { getPool } from "../db/client";
import { apiTokenColumns } from "../db/columns/api-token";
import { plantColumns } from "../db/columns/plant";
import { type RowOf, together } from "../db/columns/table-columns";
import { prepared, sql, type Statement } from "../db/sql";

export const TOKEN_PREFIX = "sg_";
const TOKEN = /^sg_[A-Za-z0-9_-]{43}$/;

/** A revocation is seen by every process within this time, on top of the query itself. */
const CACHE_MS = 4_000;
const CACHE_TOKENS = 1_000;

/** What is stored of a token. It has 256 random bits, so one plain hash cannot be reversed. */
export function hashToken(token: string): Buffer {
  return createHash("sha256").update(token).digest();
}

const known = together(
  apiTokenColumns("t", { plant_id: "plantId", id: "id", name: "name", scopes: "scopes", expires_at: "expiresAt" }),
  plantColumns("plant", { plant_zone: "timeZone" }),
);

type TokenRow = RowOf<typeof known> & {
  /** Why it lets nobody in any more. */
  readonly dead: "revoked" | "expired" | null;
  readonly is_first: boolean;
  readonly is_stale: boolean;
  readonly revoked_devices: readonly string[];
  readonly devices_in_use: readonly string[];
};
type Known = { readonly viewer: TokenViewer; readonly expiresAtMs: number } | null;
type Entry = { readonly readAtMs: number; readonly known: Promise<Known> };

const cache = new Map<string, Entry>();

/** Forgets what this process knows of tokens, so that a revocation here is seen at once. */
export function forgetTokens(): void {
  cache.clear();
}

/** Who goes on sending with a token that is out fills no journal: one entry an hour and process. */
const REFUSAL_NOTED_MS = 3_600_000;
const refusalNotedAt = new Map<string, number>();

async function noteRefusal({ plant_id: plantId, id, dead }: TokenRow): Promise<void> {
  const now = Date.now();
  if (dead === null || now - (refusalNotedAt.get(id) ?? -Infinity) < REFUSAL_NOTED_MS) return;
  refusalNotedAt.set(id, now);
  await journalToken(plantId, id, { action: "token.refused", reason: dead });
}

async function noteUse({ plant_id: plantId, id, is_first: isFirst }: TokenRow): Promise<void> {
  const { rowCount } = await getPool().query(sql`update api_token set last_used_at = now()
    where plant_id = ${plantId} and id = ${id} and (last_used_at is null or last_used_at < now() - interval '1 minute')`);
  if (isFirst && rowCount === 1) await journalToken(plantId, id, { action: "token.first-used" });
}

/** Devices that send with a token, in use or not; one that never reported is in use. */
const devicesWhere = (condition: Statement): Statement => sql`array(select u.device_id from token_device u
  left join device d on d.plant_id = u.plant_id and d.id = u.device_id
  where u.plant_id = t.plant_id and u.token_id = t.id and ${condition} order by u.device_id)`;

async function readToken(hash: Buffer): Promise<Known> {
  const { rows } = await getPool().query<TokenRow>(
    prepared(
      "find-token",
      sql`select ${known},
          case when revoked_at is not null then 'revoked' when expires_at <= now() then 'expired' end as dead,
          last_used_at is null as is_first,
          last_used_at is null or last_used_at < now() - interval '1 minute' as is_stale,
          ${devicesWhere(sql`d.revoked_at is not null`)} as revoked_devices,
          ${devicesWhere(sql`d.revoked_at is null`)} as devices_in_use
        from api_token t join plant on plant.id = t.plant_id where t.token_hash = ${hash}`,
    ),
  );
  const row = rows[0];
  if (row === undefined) return null;
  if (row.dead !== null) {
    await noteRefusal(row);
    return null;
  }
  if (row.is_stale) await noteUse(row);
  const viewer: TokenViewer = {
    kind: "token",
    plantId: row.plant_id,
    plantZone: row.plant_zone,
    tokenId: row.id,
    name: row.name,
    scopes: row.scopes,
    ...(row.revoked_devices.length === 0
      ? {}
      : { devices: { revoked: row.revoked_devices, inUse: row.devices_in_use } }),
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
