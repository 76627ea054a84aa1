import { randomBytes } from "node:crypto";
import pg from "pg";
import { inject } from "vitest";
import { closeConnections, getPool, getPrisma } from "@/lib/server/db/client";
import type { PrismaClient } from "@/lib/server/db/generated/client";
import { TEMPLATE_DATABASE } from "./server-global-setup";

export type TestDatabase = {
  readonly url: string;
  readonly pool: pg.Pool;
  readonly prisma: PrismaClient;
  /** Ends the connections and drops the database: call it in afterAll. */
  readonly drop: () => Promise<void>;
};

async function onServer(statement: string): Promise<void> {
  const client = new pg.Client({ connectionString: inject("databaseServer") });
  await client.connect();
  try {
    await client.query(statement);
  } finally {
    await client.end();
  }
}

/**
 * A fresh, migrated, empty database for one test file (about 50 ms). The code under test finds it through DATABASE_URL,
 * so getPool, getPrisma and the transactions of lib/server/db work on it.
 *
 * @param template - the database to clone; null for a database without any table
 */
export async function createTestDatabase(template: string | null = TEMPLATE_DATABASE): Promise<TestDatabase> {
  const name = `test_${randomBytes(6).toString("hex")}`;
  await onServer(`create database ${name}${template === null ? "" : ` template ${template} strategy file_copy`}`);
  const address = new URL(inject("databaseServer"));
  address.pathname = `/${name}`;
  await closeConnections();
  process.env.DATABASE_URL = address.href;
  const drop = async (): Promise<void> => {
    await closeConnections();
    await onServer(`drop database if exists ${name} with (force)`);
  };
  return { url: address.href, pool: getPool(), prisma: getPrisma(), drop };
}
