import "server-only";
import { setTimeout as sleep } from "node:timers/promises";
import manifest from "../../package.json";
import { getPool } from "./db/client";

export type Health = {
  readonly status: "ok" | "unavailable";
  readonly database: "ok" | "away" | "not migrated";
  readonly version: string;
  /** How many migrations are applied, and the newest one's name; null while the database is away. */
  readonly migrations: { readonly applied: number; readonly latest: string | null } | null;
};

const { version } = manifest;
const PATIENCE_MS = 2_000;

async function readMigrations(): Promise<NonNullable<Health["migrations"]>> {
  const { rows } = await getPool().query<{ applied: number; latest: string | null }>(
    `select count(*)::int as applied, max(migration_name) as latest from _prisma_migrations
     where finished_at is not null and rolled_back_at is null`,
  );
  return rows[0] ?? { applied: 0, latest: null };
}

const isNoTable = (error: unknown): boolean => error instanceof Error && "code" in error && error.code === "42P01";

/** The state of this process, without anything secret: no address, no name of a database, no error text. */
export async function readHealth(): Promise<Health> {
  try {
    const late = sleep(PATIENCE_MS, null, { ref: false });
    const migrations = await Promise.race([readMigrations(), late]);
    if (migrations === null) return { status: "unavailable", database: "away", version, migrations };
    if (migrations.applied === 0) return { status: "unavailable", database: "not migrated", version, migrations };
    return { status: "ok", database: "ok", version, migrations };
  } catch (error) {
    if (isNoTable(error)) {
      return { status: "unavailable", database: "not migrated", version, migrations: { applied: 0, latest: null } };
    }
    return { status: "unavailable", database: "away", version, migrations: null };
  }
}
