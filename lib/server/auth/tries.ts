import "server-only";
import { setTimeout as sleep } from "node:timers/promises";
import { AppError } from "../../errors";
import { uuidV7 } from "../../schemas/identifier";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { AUTH_WORDS } from "./words";

const texts = AUTH_WORDS.tries;

/** So many wrong tries in a stretch of time, and then no more until it is over. Common practice, no source. */
export type Brake = { readonly key: string; readonly most: number; readonly windowMs: number };

const MINUTE_MS = 60_000;
/** What is older than this is of no use to any brake. */
export const LONGEST_WINDOW_MS = 60 * MINUTE_MS;
const SWEPT_EACH_MS = MINUTE_MS;
/** Right passwords that are being checked may free a place: so long is waited for them. */
const PENDING_PAUSE_MS = 100;
const PENDING_PAUSES = 30;

/** Ten wrong passwords of one person from one place in five minutes. */
export const passwordBrake = (key: string): Brake => ({ key, most: 10, windowMs: 5 * MINUTE_MS });
/** Thirty wrong passwords of whomever from one address in a minute. */
export const addressBrake = (key: string): Brake => ({ key, most: 30, windowMs: MINUTE_MS });

/** What follows a try beyond the allowed ones. */
export class TooManyTries extends AppError {
  /** True of the first one beyond: that the brake is on is worth a note, that it stays on is not. */
  readonly isFirst: boolean;

  constructor(seconds: number, isFirst: boolean) {
    const words = texts.tooManyPasswordsWereTried(seconds);
    super("too-many-requests", words, { details: { retryAfterSeconds: seconds } });
    this.isFirst = isFirst;
  }
}

type Counted = { readonly count: number; readonly since: number };

async function count({ key, windowMs }: Brake, nowMs: number): Promise<Counted> {
  const { rows } = await getPool().query<{ count: number; since: string }>(sql`
    insert into auth_rate_limit as r (id, key, count, last_request) values (${uuidV7(nowMs)}, ${key}, 1, ${nowMs})
    on conflict (key) do update set
      count = case when r.last_request <= ${nowMs - windowMs} then 1 else r.count + 1 end,
      last_request = case when r.last_request <= ${nowMs - windowMs} then ${nowMs} else r.last_request end
    returning count, last_request::text as since`);
  return { count: rows[0]?.count ?? 1, since: Number(rows[0]?.since ?? nowMs) };
}

async function takeBack(key: string): Promise<void> {
  await getPool().query(sql`update auth_rate_limit set count = greatest(count - 1, 0) where key = ${key}`);
}

async function forget(key: string): Promise<void> {
  await getPool().query(sql`delete from auth_rate_limit where key = ${key}`);
}

/** Tries of this process whose outcome is not known yet, by brake. */
const pending = new Map<string, number>();

function notePending(key: string, change: 1 | -1): void {
  const left = (pending.get(key) ?? 0) + change;
  if (left > 0) pending.set(key, left);
  else pending.delete(key);
}

/** Takes a place under a brake. A place that is held by a try under way may yet become free: that is waited for. */
async function takePlace(brake: Brake): Promise<void> {
  for (let pauses = 0; ; pauses += 1) {
    const nowMs = Date.now();
    const { count: taken, since } = await count(brake, nowMs);
    if (taken <= brake.most) return notePending(brake.key, 1);
    const isFirst = taken === brake.most + 1;
    if ((pending.get(brake.key) ?? 0) === 0 || pauses >= PENDING_PAUSES)
      throw new TooManyTries(Math.max(1, Math.ceil((since + brake.windowMs - nowMs) / 1000)), isFirst);
    await takeBack(brake.key);
    await sleep(PENDING_PAUSE_MS);
  }
}

let sweptAtMs = 0;

/** Removes what no brake looks at any more, once a minute at most. @returns what was removed */
export async function sweepTries(
  nowMs: number = Date.now(),
): Promise<readonly { readonly key: string; readonly count: number }[]> {
  if (nowMs - sweptAtMs < SWEPT_EACH_MS) return [];
  sweptAtMs = nowMs;
  const { rows } = await getPool().query<{ key: string; count: number }>(sql`
    delete from auth_rate_limit where last_request <= ${nowMs - LONGEST_WINDOW_MS} returning key, count`);
  return rows;
}

/**
 * Runs a try of a password under some brakes. Each is counted before the password is looked at, wherever it comes from and in
 * whichever process; only a wrong one stays counted. The right password clears the first brake, which is the narrowest.
 *
 * @param attempt - throws AppError sign-in-refused where the password is wrong
 * @throws TooManyTries beyond one of the brakes; whatever `attempt` throws
 */
export async function underBrakes<T>(brakes: readonly Brake[], attempt: () => Promise<T>): Promise<T> {
  const taken: Brake[] = [];
  let isWrong = false;
  let isRight = false;
  try {
    // The widest first: who is kept out by address fills no table with names.
    for (const brake of brakes.toReversed()) {
      await takePlace(brake);
      taken.push(brake);
    }
    const result = await attempt();
    isRight = true;
    return result;
  } catch (error) {
    isWrong = error instanceof AppError && error.code === "sign-in-refused";
    throw error;
  } finally {
    for (const { key } of taken) {
      notePending(key, -1);
      if (isRight && key === brakes[0]?.key) await forget(key);
      else if (!isWrong) await takeBack(key);
    }
  }
}

/** Counts something that may happen so often in a stretch of time. @returns which one of the stretch it is, from 1 */
export async function countInWindow(brake: Brake, nowMs: number = Date.now()): Promise<number> {
  return (await count(brake, nowMs)).count;
}
