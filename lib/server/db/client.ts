import "server-only";
import { PrismaPg } from "@prisma/adapter-pg";
import pg from "pg";
import { environment } from "../base/env";
import { log } from "../base/log";
import { PrismaClient } from "./generated/client";
import { watchStatements } from "./slow-statements";

type Connections = { readonly url: string; readonly pool: pg.Pool; readonly prisma: PrismaClient };
type Holder = typeof globalThis & { shellgateConnections?: Connections };

const holder: Holder = globalThis;

function connect(url: string): Connections {
  const pool = new pg.Pool({
    connectionString: url,
    max: environment("DATABASE_POOL_MAX"),
    connectionTimeoutMillis: 10_000,
    idleTimeoutMillis: 30_000,
    application_name: "shellgate",
    // Statements that are sent together are answered together, instead of each waiting for the answer to the one before.
    pipeline: true,
  });
  // Without a listener, a server that restarts would end this process.
  pool.on("error", (error) => log.warn("an idle database connection was lost", { error }));
  const slowMs = environment("SHELLGATE_SLOW_MS");
  pool.on("connect", (client) => watchStatements(client, slowMs));
  const prisma = new PrismaClient({ adapter: new PrismaPg(pool) });
  return { url, pool, prisma };
}

/** Connections are made at first use, never at import (a build has no database), and kept across reloads of the code. */
function connections(): Connections {
  const url = environment("DATABASE_URL");
  const known = holder.shellgateConnections;
  if (known?.url === url) return known;
  const fresh = connect(url);
  holder.shellgateConnections = fresh;
  return fresh;
}

/** The Prisma client, for everything administrative. */
export function getPrisma(): PrismaClient {
  return connections().prisma;
}

/** The pool of plain connections, for raw SQL on the path of readings. Prisma uses the same pool. */
export function getPool(): pg.Pool {
  return connections().pool;
}

/** Ends all connections of this process; the next use makes new ones. */
export async function closeConnections(): Promise<void> {
  const known = holder.shellgateConnections;
  if (known === undefined) return;
  delete holder.shellgateConnections;
  await known.prisma.$disconnect();
  await known.pool.end();
}
