import "server-only";
import { setTimeout as sleep } from "node:timers/promises";
import manifest from "../../package.json";
import { getPool } from "./db/client";
import { readUnprotected } from "./db/protection";

export type Health = {
  readonly status: "ok" | "unavailable";
  readonly database: "ok" | "away" | "not migrated";
  readonly version: string;
  /** How many migrations are applied, and the newest one's name; null while the database is away. */
  readonly migrations: { readonly applied: number; readonly latest: string | null } | null;
  /**
   * What the application's own database role could do past the triggers that guard records, in words: empty as it should be,
   * null while nobody can tell.
   */
  readonly unprotected: readonly string[] | null;
};

const { version } = manifest;
const PATIENCE_MS = 2_000;

type Found = { readonly migrations: NonNullable<Health["migrations"]>; readonly unprotected: readonly string[] };

async function readDatabase(): Promise<Found> {
  const { rows } = await getPool().query<{ applied: number; latest: string | null }>(
    `select count(*)::int as applied, max(migration_name) as latest from _prisma_migrations
     where finished_at is not null and rolled_back_at is null`,
  );
  return { migrations: rows[0] ?? { applied: 0, latest: null }, unprotected: await readUnprotected(getPool()) };
}

const isNoTable = (error: unknown): boolean => error instanceof Error && "code" in error && error.code === "42P01";

const away: Health = { status: "unavailable", database: "away", version, migrations: null, unprotected: null };
const notMigrated: Health = { ...away, database: "not migrated", migrations: { applied: 0, latest: null } };

/** The state of this process, without anything secret: no address, no name of a database, no error text. */
export async function readHealth(): Promise<Health> {
  try {
    const late = sleep(PATIENCE_MS, null, { ref: false });
    const found = await Promise.race([readDatabase(), late]);
    if (found === null) return away;
    return found.migrations.applied === 0 ? notMigrated : { status: "ok", database: "ok", version, ...found };
  } catch (error) {
    return isNoTable(error) ? notMigrated : away;
  }
}
