import "server-only";
import pg from "pg";
import { AppError } from "@/lib/errors";
import { migrate, migrationNames, MIGRATIONS_FOLDER } from "../db/migrate";
import { withClient } from "../db/with-client";
import { type About, type Contents, FILES_FOLDER, type KeptTable, tableOfPart } from "./backup-contents";
import { copyIn } from "./copy-stream";
import { copyInText, listTables, SPELLING } from "./portable-tables";
import { type BackupReader, readBackup } from "./read-backup";
import type { TarEntry } from "./tar-entries";

export type LoadedBackup = {
  readonly about: About;
  readonly contents: Contents;
  /** Rows that were loaded, by table. */
  readonly rows: Readonly<Record<string, number>>;
};

const refuse = (words: string, cause?: unknown): AppError => new AppError("invalid-input", words, { cause });

/** @throws AppError where the backup has migrations that this version does not know */
function assertKnown({ migrations, shellgate }: About): void {
  const known = new Set(migrationNames());
  const foreign = migrations.find((name) => !known.has(name));
  if (foreign !== undefined)
    throw refuse(
      `This backup is of a newer Shellgate (${shellgate}, with the migration ${foreign}) than this one. Nothing was changed; use the newer version.`,
    );
}

/** @throws AppError where the database is not empty */
async function assertEmpty(client: pg.Client): Promise<void> {
  const { rows } = await client.query<{ name: string }>(
    `select c.relname as name from pg_class c join pg_namespace n on n.oid = c.relnamespace
     where n.nspname in ('public', 'jobs') and c.relkind in ('r', 'p')
       and not exists (select from pg_depend d where d.objid = c.oid and d.deptype = 'e') limit 1`,
  );
  if (rows[0] === undefined) return;
  throw new AppError(
    "conflict",
    `The database is not empty: it has the table ${rows[0].name}. Nothing was changed; a backup is restored into an empty one.`,
  );
}

type Key = { table: string; name: string; definition: string };
type Trigger = { table: string; name: string };

/** Foreign keys are taken away while rows come in any order, and given back at the end, which checks every row. */
async function dropForeignKeys(client: pg.Client): Promise<readonly Key[]> {
  const { rows } = await client.query<Key>(
    `select conrelid::regclass::text as "table", conname as name, pg_get_constraintdef(oid) as definition from pg_constraint
     where contype = 'f' and conparentid = 0 and connamespace::regnamespace::text in ('public', 'jobs')`,
  );
  for (const { table, name } of rows)
    await client.query(`alter table ${table} drop constraint ${pg.escapeIdentifier(name)}`);
  return rows;
}

/**
 * Indexes that stand for no constraint are made at the end, from all rows at once: many times as quick as row by row. Their
 * definitions name them.
 */
async function dropIndexes(client: pg.Client): Promise<readonly string[]> {
  const { rows } = await client.query<{ name: string; definition: string }>(
    `select i.indexrelid::regclass::text as name, pg_get_indexdef(i.indexrelid) as definition from pg_index i
       join pg_class c on c.oid = i.indexrelid
     where c.relnamespace = 'public'::regnamespace and not i.indisprimary
       and not exists (select from pg_constraint k where k.conindid = i.indexrelid)`,
  );
  for (const { name } of rows) await client.query(`drop index ${name}`);
  return rows.map(({ definition }) => definition);
}

/** Triggers made each row what it is when it was written; they are not to make it anew. */
async function switchOffTriggers(client: pg.Client): Promise<readonly Trigger[]> {
  const { rows } = await client.query<Trigger>(
    `select t.tgrelid::regclass::text as "table", t.tgname as name from pg_trigger t join pg_class c on c.oid = t.tgrelid
     where not t.tgisinternal and t.tgenabled = 'O' and t.tgparentid = 0
       and c.relnamespace::regnamespace::text in ('public', 'jobs')`,
  );
  for (const { table, name } of rows)
    await client.query(`alter table ${table} disable trigger ${pg.escapeIdentifier(name)}`);
  return rows;
}

async function give(
  client: pg.Client,
  indexes: readonly string[],
  keys: readonly Key[],
  triggers: readonly Trigger[],
): Promise<void> {
  await client.query("set local maintenance_work_mem = '256MB'");
  for (const definition of indexes) await client.query(definition);
  for (const { table, name, definition } of keys)
    await client.query(`alter table ${table} add constraint ${pg.escapeIdentifier(name)} ${definition}`);
  for (const { table, name } of triggers)
    await client.query(`alter table ${table} enable trigger ${pg.escapeIdentifier(name)}`);
}

/** Tables of the file must be tables of this database; what the migrations wrote into them comes with the file. */
async function emptyTables(client: pg.Client, tables: readonly KeptTable[]): Promise<void> {
  const here = new Map((await listTables(client)).map((table) => [table.name, table]));
  for (const { name, columns } of tables) {
    const table = here.get(name);
    if (table === undefined || columns.some((column) => !table.columns.includes(column)))
      throw refuse(`The backup has a table ${name} that its version does not have. Use another copy.`);
  }
  const names = tables.map(({ name }) => name.split(".").map(pg.escapeIdentifier).join("."));
  await client.query(`truncate ${names.join(", ")}`);
}

/** What the server says of a row that it does not take. */
function inWords(table: string, error: unknown): unknown {
  if (!(error instanceof pg.DatabaseError)) return error;
  const isFull = error.code?.startsWith("53") === true;
  if (isFull)
    return new AppError("storage-full", `The disk is full: ${error.message}. Make room or give another folder.`, {
      cause: error,
    });
  return refuse(`The backup's table ${table} cannot be loaded: ${error.message}.`, error);
}

class Loader implements BackupReader {
  readonly rows: Record<string, number> = {};
  readonly #client: pg.Client;
  readonly #url: string;
  readonly #onFile: (name: string, content: Buffer, mode: number) => void;
  readonly #onProgress: (words: string) => void;
  #tables = new Map<string, KeptTable>();
  #indexes: readonly string[] = [];
  #keys: readonly Key[] = [];
  #triggers: readonly Trigger[] = [];

  constructor(
    client: pg.Client,
    url: string,
    onFile: (name: string, content: Buffer, mode: number) => void,
    onProgress: (words: string) => void,
  ) {
    [this.#client, this.#url, this.#onFile, this.#onProgress] = [client, url, onFile, onProgress];
  }

  readonly begin = async (about: About): Promise<void> => {
    assertKnown(about);
    await assertEmpty(this.#client);
    this.#onProgress(`making the tables of Shellgate ${about.shellgate}`);
    await migrate(this.#url, MIGRATIONS_FOLDER, new Set(about.migrations));
    this.#tables = new Map(about.tables.map((table) => [table.name, table]));
    await this.#client.query(`${SPELLING}; begin`);
    this.#triggers = await switchOffTriggers(this.#client);
    this.#keys = await dropForeignKeys(this.#client);
    this.#indexes = await dropIndexes(this.#client);
    await emptyTables(this.#client, about.tables);
  };

  readonly take = async ({ name, content, mode }: TarEntry): Promise<void> => {
    if (name.startsWith(FILES_FOLDER)) return this.#onFile(name.slice(FILES_FOLDER.length), content, mode);
    const table = this.#tables.get(tableOfPart(name) ?? "");
    if (table === undefined) throw refuse(`The backup holds a part that no backup has: ${name}. Use another copy.`);
    if (Object.keys(this.rows).length === 0) this.#onProgress("loading its rows");
    const loaded = await copyIn(this.#client, copyInText(table), content).catch((error: unknown) => {
      throw inWords(table.name, error);
    });
    this.rows[table.name] = (this.rows[table.name] ?? 0) + loaded;
  };

  /** After the last part: what is there has to be what was written. */
  async end({ rows, sequences }: Contents): Promise<void> {
    for (const [table, count] of Object.entries(rows))
      if ((this.rows[table] ?? 0) !== count)
        throw refuse(
          `The backup says that ${table} has ${count} rows, and ${this.rows[table] ?? 0} were in it. Use another copy.`,
        );
    this.#onProgress("checking what refers to what");
    // Whoever did them is not here. Versions before the queue have none.
    if (rows["jobs.job"] !== undefined)
      await this.#client.query(
        `update jobs.job set state = 'retry', start_after = now(), started_on = null, worker = null, run = null where state = 'active'`,
      );
    for (const { name, last } of sequences)
      await this.#client.query("select setval($1::text::regclass, $2::bigint)", [name, last]);
    await give(this.#client, this.#indexes, this.#keys, this.#triggers).catch((error: unknown) => {
      throw inWords((error as { table?: string }).table ?? "of what refers to it", error);
    });
    await this.#client.query("commit");
    this.#onProgress("learning how the rows are distributed");
    await this.#client.query("analyze");
  }
}

/**
 * Loads a backup into an empty database, in one transaction: the tables as they were made by its version's migrations, then every row.
 * Later migrations are the caller's.
 *
 * @param ownerUrl - of the role that is to own the tables
 * @param onFile - each of the plant's own files
 * @throws AppError: not empty, newer version, cut off, damaged, wrong passphrase, no room. The database is to be thrown away then.
 */
export async function loadBackup(
  ownerUrl: string,
  file: string,
  askPassphrase: () => Promise<string | null>,
  onFile: (name: string, content: Buffer, mode: number) => void,
  onProgress: (words: string) => void = () => undefined,
): Promise<LoadedBackup> {
  return withClient(ownerUrl, "DATABASE_OWNER_URL or DATABASE_URL", async (client) => {
    client.on("error", () => {});
    const loader = new Loader(client, ownerUrl, onFile, onProgress);
    const { about, contents } = await readBackup(file, askPassphrase, loader);
    await loader.end(contents);
    return { about, contents, rows: loader.rows };
  });
}

/** Takes away what a restore that failed has made in a database that was empty before it. */
export async function emptyDatabase(ownerUrl: string): Promise<void> {
  await withClient(ownerUrl, "DATABASE_OWNER_URL or DATABASE_URL", async (client) => {
    const { rows } = await client.query<{ statement: string }>(
      `select 'drop schema if exists jobs cascade' as statement
       union all select format('drop table public.%I cascade', c.relname) from pg_class c
         where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
           and not exists (select from pg_depend d where d.objid = c.oid and d.deptype = 'e')
       union all select format('drop sequence if exists public.%I cascade', c.relname) from pg_class c
         where c.relnamespace = 'public'::regnamespace and c.relkind = 'S'
           and not exists (select from pg_depend d where d.objid = c.oid and d.deptype = 'e')
       union all select format('drop function %s cascade', p.oid::regprocedure) from pg_proc p
         where p.pronamespace = 'public'::regnamespace and not exists (select from pg_depend d where d.objid = p.oid and d.deptype = 'e')
       union all select format('drop type public.%I cascade', t.typname) from pg_type t
         where t.typnamespace = 'public'::regnamespace and t.typtype = 'e'
           and not exists (select from pg_depend d where d.objid = t.oid and d.deptype = 'e')`,
    );
    await client.query(["begin", ...rows.map(({ statement }) => statement), "commit"].join("; "));
  });
}
