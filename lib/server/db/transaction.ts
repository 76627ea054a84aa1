import "server-only";
import { setTimeout as sleep } from "node:timers/promises";
import type pg from "pg";
import { getPool, getPrisma } from "./client";
import type { Prisma } from "./generated/client";
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
 * Runs `fn` in one Prisma transaction and repeats it when the database reports a conflict with another one (serialization
 * failure, deadlock). `fn` must be repeatable: no message sent, no file written inside.
 */
export async function inTransaction<T>(
  fn: (db: Prisma.TransactionClient) => Promise<T>,
  options: TransactionOptions = {},
): Promise<T> {
  const { isolation = "ReadCommitted", timeoutMs = TIMEOUT_MS, attempts = ATTEMPTS } = options;
  return retryConflicts(attempts, () =>
    getPrisma().$transaction(fn, { isolationLevel: isolation, timeout: timeoutMs, maxWait: timeoutMs }),
  );
}

async function runSqlTransaction<T>(
  begin: string,
  { timeoutMs, lockTimeoutMs }: { readonly timeoutMs: number; readonly lockTimeoutMs: number },
  fn: (client: pg.PoolClient) => Promise<T>,
): Promise<T> {
  const client = await getPool().connect();
  let broken: Error | undefined;
  // A server that goes away between two statements: without a listener it would end this process.
  const onLost = (error: Error): void => {
    broken = error;
  };
  client.on("error", onLost);
  try {
    const limits = `set local statement_timeout = ${Math.ceil(timeoutMs)}; set local lock_timeout = ${Math.ceil(lockTimeoutMs)}`;
    await client.query(`${begin}; ${limits}`);
    const result = await fn(client);
    await client.query("commit");
    return result;
  } catch (error) {
    try {
      await client.query("rollback");
    } catch (rollbackError) {
      // A connection that cannot roll back must not return to the pool; what matters to the caller is the first error.
      broken = rollbackError instanceof Error ? rollbackError : new Error(String(rollbackError));
    }
    throw error;
  } finally {
    client.off("error", onLost);
    client.release(broken);
  }
}

/** As inTransaction, for raw SQL on one connection of the pool. */
export async function inSqlTransaction<T>(
  fn: (client: pg.PoolClient) => Promise<T>,
  options: TransactionOptions = {},
): Promise<T> {
  const { isolation = "ReadCommitted", timeoutMs = TIMEOUT_MS, attempts = ATTEMPTS } = options;
  const { lockTimeoutMs = LOCK_TIMEOUT_MS } = options;
  return retryConflicts(attempts, () => runSqlTransaction(SQL_ISOLATION[isolation], { timeoutMs, lockTimeoutMs }, fn));
}
