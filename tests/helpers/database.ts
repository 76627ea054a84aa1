import { randomBytes } from "node:crypto";
import pg from "pg";
import { inject } from "vitest";
import { closeConnections, getPool, getPrisma } from "@/lib/server/db/client";
import type { PrismaClient } from "@/lib/server/db/generated/client";
import { TEMPLATE_DATABASE } from "./server-global-setup";

export type TestDatabase = {
  /** Address for the owner of the tables. */
  readonly url: string;
  /** Address for the application. */
  readonly appUrl: string;
  /** Connections of the application's role, as the code under test has them. */
  readonly pool: pg.Pool;
  readonly prisma: PrismaClient;
  /** Connections of the owner, for what the application may not do: alter tables, change or remove evidence. */
  readonly owner: pg.Pool;
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
 * A fresh, migrated, empty database for one test file (about 50 ms). The code under test finds it through DATABASE_URL, as
 * the application's role, so getPool, getPrisma and the transactions of lib/server/db work on it and prove that its grants
 * suffice.
 *
 * @param template - the database to clone; null for a database without any table
 */
export async function createTestDatabase(template: string | null = TEMPLATE_DATABASE): Promise<TestDatabase> {
  const name = `test_${randomBytes(6).toString("hex")}`;
  await onServer(`create database ${name}${template === null ? "" : ` template ${template} strategy file_copy`}`);
  const at = (server: string): string => {
    const address = new URL(server);
    address.pathname = `/${name}`;
    return address.href;
  };
  const [url, appUrl] = [at(inject("databaseServer")), at(inject("applicationServer"))];
  await closeConnections();
  process.env.DATABASE_URL = appUrl;
  const owner = new pg.Pool({ connectionString: url, max: 4 });
  owner.on("error", () => {});
  const drop = async (): Promise<void> => {
    await closeConnections();
    await owner.end();
    await onServer(`drop database if exists ${name} with (force)`);
  };
  return { url, appUrl, pool: getPool(), prisma: getPrisma(), owner, drop };
}
