import "server-only";
import type pg from "pg";
import { getPool } from "./client";

/**
 * Work on one connection of the pool. What it sends without waiting goes out together and is worked off in its order.
 *
 * @param work - may `discard` the connection, which then does not return to the pool
 */
export async function onOneConnection<T>(
  work: (client: pg.PoolClient, discard: (reason: Error) => void) => Promise<T>,
): Promise<T> {
  const client = await getPool().connect();
  let broken: Error | undefined;
  const discard = (reason: Error): void => {
    broken = reason;
  };
  // A server that goes away between two statements: without a listener it would end this process.
  client.on("error", discard);
  try {
    return await work(client, discard);
  } finally {
    client.off("error", discard);
    client.release(broken);
  }
}
