import "server-only";
import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { PrismaPg } from "@prisma/adapter-pg";
import { bindMigrationAwareSqlAdapterFactory, ColumnTypeEnum, DriverAdapterError } from "@prisma/driver-adapter-utils";
import type { DiffTarget, MigrationList, SchemaEngine } from "@prisma/schema-engine-wasm";
import pg from "pg";
import { AppError } from "@/lib/errors";
import { withClient } from "./with-client";

const PRISMA = path.resolve(import.meta.dirname, "../../../prisma");
export const SCHEMA_FILE = path.join(PRISMA, "schema.prisma");
export const MIGRATIONS_FOLDER = path.join(PRISMA, "migrations");
const OLDEST_SERVER = 15;
/** Any number that nothing else uses: two processes that start together migrate and grant one after the other. */
export const MIGRATION_LOCK = 720_415_209;
const NO_FILTERS = { externalTables: [], externalEnums: [] };

const problem = (sentence: string, cause?: unknown): AppError => new AppError("unavailable", sentence, { cause });

type Migration = { readonly name: string; readonly sql: string; readonly checksum: string };

function readMigrations(folder: string): readonly Migration[] {
  return readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort()
    .map((name) => {
      const sql = readFileSync(path.join(folder, name, "migration.sql"), "utf8");
      return { name, sql, checksum: createHash("sha256").update(sql).digest("hex") };
    });
}

function toEngineList(folder: string, migrations: readonly Migration[]): MigrationList {
  const lockfile = path.join(folder, "migration_lock.toml");
  return {
    baseDir: folder,
    lockfile: { path: "migration_lock.toml", content: existsSync(lockfile) ? readFileSync(lockfile, "utf8") : null },
    shadowDbInitScript: "",
    migrationDirectories: migrations.map(({ name, sql }) => ({
      path: name,
      migrationFile: { path: "migration.sql", content: { tag: "ok", value: sql } },
    })),
  };
}

const schemaTarget = (file: string): DiffTarget => ({
  tag: "schemaDatamodel",
  files: [{ path: file, content: readFileSync(file, "utf8") }],
});

let loadedEngine: Promise<{ readonly SchemaEngine: typeof SchemaEngine }> | undefined;

type PanicHolder = typeof globalThis & { PRISMA_WASM_PANIC_REGISTRY?: { set_message: (message: string) => void } };
let lastPanic = "";

/** Prisma's own schema engine as WebAssembly: no native program is fetched. */
async function loadEngine(): Promise<{ readonly SchemaEngine: typeof SchemaEngine }> {
  const engine = await import("@prisma/schema-engine-wasm/schema_engine_bg");
  // Where the engine leaves its last words before it gives up.
  (globalThis as PanicHolder).PRISMA_WASM_PANIC_REGISTRY = { set_message: (message) => (lastPanic = message) };
  const folder = path.dirname(createRequire(import.meta.url).resolve("@prisma/schema-engine-wasm"));
  const module = await WebAssembly.compile(readFileSync(path.join(folder, "schema_engine_bg.wasm")));
  const instance = await WebAssembly.instantiate(module, {
    "./schema_engine_bg.js": engine as WebAssembly.ModuleImports,
  });
  const glue = engine as unknown as {
    __wbg_set_wasm: (exports: WebAssembly.Exports) => void;
    SchemaEngine: typeof SchemaEngine;
  };
  glue.__wbg_set_wasm(instance.exports);
  (instance.exports.__wbindgen_start as () => void)();
  return glue;
}

/** The form in which the engine can tell the server's words. */
const toAdapterError = (error: pg.DatabaseError): DriverAdapterError =>
  new DriverAdapterError({
    kind: "postgres",
    code: error.code ?? "XX000",
    severity: error.severity ?? "ERROR",
    message: error.message,
    detail: error.detail,
    column: error.column,
    hint: error.hint,
  });

const CHAR_OID = 18;
const TEXT_OID = 25;

/**
 * The adapter as the engine needs it. Each migration goes to the server as one script, as the native engine sends it: all
 * of it happens or nothing; the adapter's own method cuts at every semicolon, which breaks functions, comments and
 * texts. And the system catalogues hold columns of type "char", which the adapter refuses and the engine wants.
 */
class EngineAdapter extends PrismaPg {
  override async connect() {
    const adapter = await super.connect();
    const pool = adapter.underlyingDriver();
    const charColumns = new WeakMap<object, readonly number[]>();
    const query = pool.query.bind(pool) as (config: pg.QueryConfig) => Promise<pg.QueryResult>;
    pool.query = (async (config: pg.QueryConfig) => {
      const result = await query(config);
      const found = (result.fields ?? []).flatMap((field, index) => (field.dataTypeID === CHAR_OID ? [index] : []));
      for (const field of result.fields ?? []) if (field.dataTypeID === CHAR_OID) field.dataTypeID = TEXT_OID;
      if (found.length > 0) charColumns.set(result.rows, found);
      return result;
    }) as typeof pool.query;
    const queryRaw = adapter.queryRaw.bind(adapter);
    adapter.queryRaw = async (statement) => {
      const result = await queryRaw(statement);
      for (const index of charColumns.get(result.rows) ?? []) result.columnTypes[index] = ColumnTypeEnum.Character;
      return result;
    };
    adapter.executeScript = async (script) => {
      try {
        await query(script as unknown as pg.QueryConfig);
      } catch (error) {
        throw error instanceof pg.DatabaseError ? toAdapterError(error) : error;
      }
    };
    return adapter;
  }
}

async function withEngine<T>(url: string, schemaFile: string, work: (engine: SchemaEngine) => Promise<T>): Promise<T> {
  loadedEngine ??= loadEngine();
  const { SchemaEngine: Engine } = await loadedEngine;
  const pool = new pg.Pool({ connectionString: url, max: 2 });
  const adapter = bindMigrationAwareSqlAdapterFactory(new EngineAdapter(pool));
  const schema: [string, string] = [schemaFile, readFileSync(schemaFile, "utf8")];
  try {
    const engine = await Engine.new({ datamodels: [schema] }, () => {}, adapter);
    try {
      return await work(engine);
    } finally {
      engine.free();
    }
  } finally {
    await pool.end();
  }
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

type Applied = { readonly migration_name: string; readonly checksum: string; readonly finished: boolean };

async function readHistory(client: pg.Client): Promise<readonly Applied[]> {
  const { rows: tables } = await client.query("select to_regclass('_prisma_migrations') as found");
  if ((tables[0] as { found: unknown } | undefined)?.found === null) return [];
  const { rows } = await client.query<Applied>(
    `select migration_name, checksum, finished_at is not null as finished
       from _prisma_migrations where rolled_back_at is null order by started_at`,
  );
  return rows;
}

function checkHistory(history: readonly Applied[], migrations: readonly Migration[]): void {
  const known = new Map(migrations.map((migration) => [migration.name, migration]));
  const foreign = history.find((row) => !known.has(row.migration_name));
  if (foreign !== undefined) {
    throw problem(
      `This database is newer than this Shellgate: it has the migration ${foreign.migration_name}. Nothing was changed; start the newer Shellgate.`,
    );
  }
  const edited = history.find((row) => row.finished && known.get(row.migration_name)?.checksum !== row.checksum);
  if (edited !== undefined) {
    throw problem(
      `The migration ${edited.migration_name} is not the one that made this database. Nothing was changed; use the files it was made with.`,
    );
  }
}

/**
 * A migration that began and did not finish left nothing behind, being one transaction; the history has to say so before
 * it can be tried again.
 */
async function markUnfinished(client: pg.Client): Promise<void> {
  if ((await readHistory(client)).every((row) => row.finished)) return;
  await client.query(
    "update _prisma_migrations set rolled_back_at = now() where finished_at is null and rolled_back_at is null",
  );
}

/** The first line says what went wrong; the engine's trace that follows helps nobody. */
const firstLines = (error: unknown): string =>
  error instanceof WebAssembly.RuntimeError
    ? lastPanic
    : (error instanceof Error ? error.message : String(error)).replace(/\n\s*0: [\s\S]*$/, "");

/**
 * Brings a database to the newest migration of a folder through Prisma's own engine, which keeps the history table that
 * the ordinary Prisma command line reads. A database that is up to date is left alone without loading the engine.
 *
 * @returns the names of the migrations that were applied now
 * @throws AppError unavailable: server not reachable, history newer or edited, or a migration that fails
 */
export async function migrate(
  url: string,
  folder = MIGRATIONS_FOLDER,
  schemaFile = SCHEMA_FILE,
): Promise<readonly string[]> {
  const migrations = readMigrations(folder);
  return withClient(url, "DATABASE_OWNER_URL or DATABASE_URL", async (client) => {
    await client.query("select pg_advisory_lock($1)", [MIGRATION_LOCK]);
    await markUnfinished(client);
    const history = await readHistory(client);
    checkHistory(history, migrations);
    if (history.length === migrations.length) return [];
    const input = { migrationsList: toEngineList(folder, migrations), filters: NO_FILTERS };
    try {
      return (await withEngine(url, schemaFile, (engine) => engine.applyMigrations(input))).appliedMigrationNames;
    } catch (error) {
      await markUnfinished(client);
      throw problem(`The database could not be migrated and is as it was before: ${firstLines(error)}`, error);
    }
  });
}

/** Reads what is in a database as Prisma sees it: the schema file that would describe it. */
async function introspect(url: string, schemaFile: string): Promise<string> {
  const header =
    readFileSync(schemaFile, "utf8")
      .match(/(generator|datasource)\s+\w+\s*\{[^}]*\}/g)
      ?.join("\n\n") ?? "";
  const result = await withEngine(url, schemaFile, (engine) =>
    engine.introspect({
      schema: { files: [{ path: schemaFile, content: header }] },
      baseDirectoryPath: path.dirname(schemaFile),
      force: true,
      compositeTypeDepth: -1,
      namespaces: null,
    }),
  );
  return result.schema.files.map((file) => file.content).join("\n");
}

/**
 * The SQL that would turn a database into what schema.prisma says: empty when the two agree. Constraints and triggers
 * that Prisma cannot describe (CHECK, functions) are not compared.
 */
export async function diffDatabaseAgainstSchema(url: string, schemaFile = SCHEMA_FILE): Promise<string> {
  const found = await introspect(url, schemaFile);
  const from: DiffTarget = {
    tag: "schemaDatamodel",
    files: [{ path: schemaFile, content: found }],
  };
  return diff(url, from, schemaTarget(schemaFile), schemaFile);
}

async function diff(url: string, from: DiffTarget, to: DiffTarget, schemaFile: string): Promise<string> {
  const params = { from, to, script: true, exitCode: null, filters: NO_FILTERS };
  const { stdout } = await withEngine(url, schemaFile, (engine) => engine.diff(params));
  const script = stdout ?? "";
  return /^\s*-- This is an empty migration\.?\s*$/.test(script) ? "" : script;
}
