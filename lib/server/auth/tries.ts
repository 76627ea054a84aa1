import "server-only";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { getPool } from "../db/client";
import { sql } from "../db/sql";

const MOST_TRIES = 10;
const WINDOW_MS = 5 * 60_000;

/** What follows a try beyond the allowed ones. */
export class TooManyTries extends AppError {
  /** True of the first one beyond: that the brake is on is worth a note, that it stays on is not. */
  readonly isFirst: boolean;

  constructor(seconds: number, isFirst: boolean) {
    const words = `Too many passwords were tried. Wait ${seconds} s and try again; nothing is locked and nothing was lost.`;
    super("too-many-requests", words, { details: { retryAfterSeconds: seconds } });
    this.isFirst = isFirst;
  }
}

/**
 * Counts a try of a password before it is looked at, wherever it comes from and in whichever process.
 *
 * @param key - whose password, e.g. "signature of ID"
 * @throws TooManyTries beyond ten failures in five minutes
 */
export async function countTry(key: string, nowMs: number = Date.now()): Promise<void> {
  const { rows } = await getPool().query<{ count: number; since: string }>(sql`
    insert into auth_rate_limit as r (id, key, count, last_request) values (${uuidV7(nowMs)}, ${key}, 1, ${nowMs})
    on conflict (key) do update set
      count = case when r.last_request <= ${nowMs - WINDOW_MS} then 1 else r.count + 1 end,
      last_request = case when r.last_request <= ${nowMs - WINDOW_MS} then ${nowMs} else r.last_request end
    returning count, last_request::text as since`);
  const row = rows[0];
  if (row === undefined || row.count <= MOST_TRIES) return;
  const seconds = Math.max(1, Math.ceil((Number(row.since) + WINDOW_MS - nowMs) / 1000));
  throw new TooManyTries(seconds, row.count === MOST_TRIES + 1);
}

/** After the right password. */
export async function forgetTries(key: string): Promise<void> {
  await getPool().query(sql`delete from auth_rate_limit where key = ${key}`);
}
