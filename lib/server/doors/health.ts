import "server-only";
import { statfs } from "node:fs/promises";
import { setTimeout as sleep } from "node:timers/promises";
import manifest from "../../../package.json";
import { getPool } from "../db/client";
import { readUnprotected } from "../db/protection";
import { environment } from "../base/env";
import { readQueueState } from "../jobs/workers";
import { troubleSince } from "./trouble";

export type Health = {
  /** "degraded": it answers, and cannot do all its work. */
  readonly status: "ok" | "degraded";
  readonly database: "ok" | "away" | "full" | "not migrated";
  /** "low": the disk of the plant's folder has less than 64 MB left. */
  readonly disk: "ok" | "low";
  /**
   * What happens later. "silent": no worker lives; "late": something that is due waits for ten minutes; "failed": something failed
   * for good more than an hour ago, and nobody decided; null while nobody can tell.
   */
  readonly jobs: "ok" | "silent" | "late" | "failed" | null;
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
/** A disk that was full so lately is called full still: nobody but the next who writes can tell. */
const FULL_FOR_MS = 60_000;
const LOW_BYTES = 64 * 2 ** 20;

/** Room left for the plant's own files; a folder on another machine is that machine's matter. */
async function readDisk(): Promise<Health["disk"]> {
  try {
    const { bavail, bsize } = await statfs(environment("SHELLGATE_DATA"));
    return bavail * bsize < LOW_BYTES ? "low" : "ok";
  } catch {
    // No folder of its own: an own server of the plant keeps the data.
    return "ok";
  }
}

const LATE_S = 600;
const FAILED_S = 3_600;

async function readJobs(): Promise<NonNullable<Health["jobs"]>> {
  const { workers, waitingS, failedS } = await readQueueState();
  if (workers === 0) return "silent";
  if (waitingS > LATE_S) return "late";
  return failedS > FAILED_S ? "failed" : "ok";
}

type Found = Pick<Health, "jobs"> & {
  readonly migrations: NonNullable<Health["migrations"]>;
  readonly unprotected: readonly string[];
};

async function readDatabase(): Promise<Found> {
  const { rows } = await getPool().query<{ applied: number; latest: string | null }>(
    `select count(*)::int as applied, max(migration_name) as latest from _prisma_migrations
     where finished_at is not null and rolled_back_at is null`,
  );
  return {
    migrations: rows[0] ?? { applied: 0, latest: null },
    unprotected: await readUnprotected(getPool()),
    jobs: await readJobs(),
  };
}

const isNoTable = (error: unknown): boolean => error instanceof Error && "code" in error && error.code === "42P01";

type Nothing = Omit<Health, "disk">;
const away: Nothing = {
  status: "degraded",
  database: "away",
  version,
  migrations: null,
  unprotected: null,
  jobs: null,
};
const notMigrated: Nothing = { ...away, database: "not migrated", migrations: { applied: 0, latest: null } };

/** The state of this process, without anything secret: no address, no name of a database, no error text. */
export async function readHealth(): Promise<Health> {
  const [found, disk] = await Promise.all([readParts(), readDisk()]);
  const isFull = troubleSince(Date.now() - FULL_FOR_MS) === "full";
  const database = isFull && found.database === "ok" ? "full" : found.database;
  const isWell = database === "ok" && disk === "ok" && found.jobs === "ok";
  return { ...found, database, disk, status: isWell ? "ok" : "degraded" };
}

async function readParts(): Promise<Nothing> {
  try {
    const late = sleep(PATIENCE_MS, null, { ref: false });
    const found = await Promise.race([readDatabase(), late]);
    if (found === null) return away;
    return found.migrations.applied === 0 ? notMigrated : { status: "ok", database: "ok", version, ...found };
  } catch (error) {
    return isNoTable(error) ? notMigrated : away;
  }
}
