import "server-only";
import { setTimeout as sleep } from "node:timers/promises";
import type pg from "pg";
import { onOneConnection } from "./on-one-connection";
import { readDatabaseRefusal } from "./prisma-errors";

export type TransactionOptions = {
  readonly isolation?: "ReadCommitted" | "RepeatableRead" | "Serializable";
  readonly timeoutMs?: number;
  /** How long a statement of raw SQL waits for what somebody else holds. */
  readonly lockTimeoutMs?: number;
  /** Tries at most, the first included. */
  readonly attempts?: number;
};

const ATTEMPTS = 8;
const TIMEOUT_MS = 15_000;
/** Longer than any recording takes; who waits behind a writer that hangs is told so, and does not hold a connection for long. */
const LOCK_TIMEOUT_MS = 5_000;
const FIRST_PAUSE_MS = 8;
const LONGEST_PAUSE_MS = 500;

const SQL_ISOLATION = {
  ReadCommitted: "begin isolation level read committed",
  RepeatableRead: "begin isolation level repeatable read",
  Serializable: "begin isolation level serializable",
} as const;

/** Full jitter: two that met once are unlikely to meet again. */
const pauseMs = (failures: number): number =>
  Math.random() * Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** failures);

async function retryConflicts<T>(attempts: number, work: () => Promise<T>): Promise<T> {
  for (let attempt = 1; ; attempt += 1) {
    try {
      return await work();
    } catch (error) {
      if (attempt >= attempts || readDatabaseRefusal(error)?.kind !== "conflict") throw error;
    }
    await sleep(pauseMs(attempt));
  }
}

/**
 * Takes a statement that is on its way already and whose answer nothing needs before the commit: it is waited for with it. Where
 * it fails, so does the transaction.
 */
export type WithCommit = (statement: Promise<unknown>) => void;

/**
 * Waits until several parts of one transaction have all ended, also where one fails: none of them may send a statement after the
 * transaction is over. The first failure is thrown.
 */
export async function allEnded<const Parts extends readonly unknown[]>(
  parts: Parts,
): Promise<{ -readonly [K in keyof Parts]: Awaited<Parts[K]> }> {
  await Promise.allSettled(parts);
  return Promise.all(parts);
}

type SqlWork<T> = (client: pg.PoolClient, withCommit: WithCommit) => Promise<T>;

async function runSqlTransaction<T>(
  begin: string,
  { timeoutMs, lockTimeoutMs }: { readonly timeoutMs: number; readonly lockTimeoutMs: number },
  fn: SqlWork<T>,
): Promise<T> {
  return onOneConnection(async (client, discard) => {
    const onTheirWay: Promise<unknown>[] = [];
    const withCommit: WithCommit = (statement) => {
      // Whoever fails first is told to the caller; what was sent with it fails by it.
      statement.catch(() => {});
      onTheirWay.push(statement);
    };
    try {
      const limits = `set local statement_timeout = ${Math.ceil(timeoutMs)}; set local lock_timeout = ${Math.ceil(lockTimeoutMs)}`;
      // Each answer that is waited for costs a turn of a busy machine: the first statement goes out with the one that begins.
      withCommit(client.query(`${begin}; ${limits}`));
      const result = await fn(client, withCommit);
      await allEnded([...onTheirWay, client.query("commit")]);
      return result;
    } catch (error) {
      try {
        await client.query("rollback");
      } catch (rollbackError) {
        // A connection that cannot roll back must not return to the pool; what matters to the caller is the first error.
        discard(rollbackError instanceof Error ? rollbackError : new Error(String(rollbackError)));
      }
      throw error;
    }
  });
}

/**
 * Runs `fn` in one transaction on one connection of the pool and repeats it when the database reports a conflict with another one
 * (serialization failure, deadlock). `fn` must be repeatable: no message sent, no file written inside.
 */
export async function inSqlTransaction<T>(fn: SqlWork<T>, options: TransactionOptions = {}): Promise<T> {
  const { isolation = "ReadCommitted", timeoutMs = TIMEOUT_MS, attempts = ATTEMPTS } = options;
  const { lockTimeoutMs = LOCK_TIMEOUT_MS } = options;
  return retryConflicts(attempts, () => runSqlTransaction(SQL_ISOLATION[isolation], { timeoutMs, lockTimeoutMs }, fn));
}
