import "server-only";
import { createHash, randomUUID } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import path from "node:path";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { withClient } from "./with-client";

export const MIGRATIONS_FOLDER = path.resolve(import.meta.dirname, "../../../prisma/migrations");
const OLDEST_SERVER = 15;
/** Any number that nothing else uses: two processes that start together migrate and grant one after the other. */
export const MIGRATION_LOCK = 720_415_209;
/** The number that the Prisma command line locks while it migrates (prisma-engines, sql-schema-connector, postgres flavour). */
const PRISMA_LOCK = 72_707_369;

const problem = (sentence: string, cause?: unknown): AppError => new AppError("unavailable", sentence, { cause });

type Migration = { readonly name: string; readonly sql: string };

const readMigrations = (folder: string): readonly Migration[] =>
  readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort()
    .map((name) => ({ name, sql: readFileSync(path.join(folder, name, "migration.sql"), "utf8") }));

/** Names of all migrations that this version knows, in their order. */
export const migrationNames = (): readonly string[] => readMigrations(MIGRATIONS_FOLDER).map(({ name }) => name);

const checksumOf = (text: string): string => createHash("sha256").update(text).digest("hex");

/** Whether a file is the one that was applied; how its lines end may have been changed by a check-out on another system. */
function isSameScript(text: string, checksum: string): boolean {
  const lines = text.replaceAll("\r\n", "\n");
  return [text, lines, lines.replaceAll("\n", "\r\n")].some((spelling) => checksumOf(spelling) === checksum);
}

/**
 * @throws AppError unavailable when the server is older than version 15
 */
export async function checkServerVersion(url: string, oldest = OLDEST_SERVER): Promise<void> {
  await withClient(url, "DATABASE_URL", async (client) => {
    const { rows } = await client.query<{ number: string; text: string }>(
      "select current_setting('server_version_num') as number, current_setting('server_version') as text",
    );
    const found = rows[0];
    if (found === undefined || Math.floor(Number(found.number) / 10_000) >= oldest) return;
    throw problem(
      `The database server is PostgreSQL ${found.text}; Shellgate needs version ${oldest} or newer. Nothing was changed.`,
    );
  });
}

type Applied = { readonly name: string; readonly checksum: string; readonly finished: boolean };

/** Tables that are nobody's extension. */
const FOREIGN_TABLES = `
  select c.relname as name from pg_class c
   where c.relnamespace = current_schema()::regnamespace and c.relkind in ('r', 'p')
     and not exists (select from pg_depend d where d.objid = c.oid and d.deptype = 'e')
   order by 1 limit 3`;

/** Prisma's own table, column for column (prisma-engines, sql-schema-connector, postgres flavour). */
const HISTORY_TABLE = `
  create table _prisma_migrations (
    id varchar(36) primary key not null,
    checksum varchar(64) not null,
    finished_at timestamptz,
    migration_name varchar(255) not null,
    logs text,
    rolled_back_at timestamptz,
    started_at timestamptz not null default now(),
    applied_steps_count integer not null default 0
  )`;

/** Makes the history in an empty database. */
async function ensureHistory(client: pg.Client): Promise<void> {
  const { rows } = await client.query<{ found: boolean }>(
    "select to_regclass('_prisma_migrations') is not null as found",
  );
  if (rows[0]?.found === true) return;
  const { rows: foreign } = await client.query<{ name: string }>(FOREIGN_TABLES);
  if (foreign.length > 0) {
    throw problem(
      `The database has tables that Shellgate did not make (${foreign.map(({ name }) => name).join(", ")}). Nothing was changed; give it a database of its own.`,
    );
  }
  await client.query(HISTORY_TABLE);
}

async function readHistory(client: pg.Client): Promise<readonly Applied[]> {
  const { rows } = await client.query<Applied>(
    `select migration_name as name, checksum, finished_at is not null as finished
       from _prisma_migrations where rolled_back_at is null order by started_at`,
  );
  return rows;
}

function checkHistory(history: readonly Applied[], migrations: readonly Migration[]): void {
  const known = new Map(migrations.map((migration) => [migration.name, migration.sql]));
  const foreign = history.find((row) => !known.has(row.name));
  if (foreign !== undefined) {
    throw problem(
      `This database is newer than this Shellgate: it has the migration ${foreign.name}. Nothing was changed; start the newer Shellgate.`,
    );
  }
  const edited = history.find((row) => row.finished && !isSameScript(known.get(row.name) ?? "", row.checksum));
  if (edited !== undefined) {
    throw problem(
      `The migration ${edited.name} is not the one that made this database. Nothing was changed; use the files it was made with.`,
    );
  }
}

/**
 * What another program began and did not finish (an older Shellgate that was killed, a migration that failed under the
 * Prisma command line) left nothing behind, since it was sent as one script, which happens whole or not at all; the history
 * has to say so before it is tried again.
 */
async function markUnfinished(client: pg.Client): Promise<void> {
  await client.query(
    "update _prisma_migrations set rolled_back_at = now() where finished_at is null and rolled_back_at is null",
  );
}

function describe(error: unknown): string {
  const { message, detail, hint } = error as Partial<pg.DatabaseError>;
  return [message ?? String(error), detail, hint].filter((part) => part !== undefined).join(" ");
}

/** One migration with its row of the history in one transaction: who is killed in the middle leaves neither. */
async function apply(client: pg.Client, { name, sql }: Migration): Promise<void> {
  const [id, checksum] = [randomUUID(), checksumOf(sql)];
  const startedAt = new Date();
  try {
    await client.query("begin");
    await client.query(
      "insert into _prisma_migrations (id, checksum, migration_name, started_at) values ($1, $2, $3, $4)",
      [id, checksum, name, startedAt],
    );
    await client.query(sql);
    await client.query(
      "update _prisma_migrations set finished_at = clock_timestamp(), applied_steps_count = applied_steps_count + 1 where id = $1",
      [id],
    );
    await client.query("commit");
  } catch (error) {
    // Noted as the Prisma command line notes it once somebody has resolved it. Where even that fails, the first error is the one to tell.
    await client
      .query("rollback")
      .then(() =>
        client.query(
          `insert into _prisma_migrations (id, checksum, migration_name, started_at, logs, rolled_back_at)
           values ($1, $2, $3, $4, $5, clock_timestamp())`,
          [id, checksum, name, startedAt, describe(error)],
        ),
      )
      .catch(() => undefined);
    throw error;
  }
}

/**
 * Brings a database to the newest migration of a folder, in the order of their names, each in one transaction, and keeps the
 * history table that the ordinary Prisma command line reads and writes.
 *
 * @param only - names of migrations, to which an empty database is brought instead
 * @returns the names of the migrations that were applied now
 * @throws AppError unavailable: server not reachable, history newer or edited, tables of somebody else, or a migration that fails
 */
export async function migrate(
  url: string,
  folder = MIGRATIONS_FOLDER,
  only?: ReadonlySet<string>,
): Promise<readonly string[]> {
  const migrations = readMigrations(folder).filter(({ name }) => only === undefined || only.has(name));
  return withClient(url, "DATABASE_OWNER_URL or DATABASE_URL", async (client) => {
    for (const lock of [MIGRATION_LOCK, PRISMA_LOCK]) await client.query("select pg_advisory_lock($1)", [lock]);
    await ensureHistory(client);
    const history = await readHistory(client);
    checkHistory(history, migrations);
    if (history.some((row) => !row.finished)) await markUnfinished(client);
    const finished = new Set(history.filter((row) => row.finished).map((row) => row.name));
    const applied: string[] = [];
    for (const migration of migrations.filter(({ name }) => !finished.has(name))) {
      try {
        await apply(client, migration);
      } catch (error) {
        const before = applied.length === 0 ? "" : ` The ${applied.length} before it were applied and stay.`;
        throw problem(
          `The migration ${migration.name} could not be applied; the database is as it was before it: ${describe(error)}.${before} Start the Shellgate that ran before, or mend what is said here and start again.`,
          error,
        );
      }
      applied.push(migration.name);
    }
    return applied;
  });
}
