import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { PrismaPg } from "@prisma/adapter-pg";
import { bindMigrationAwareSqlAdapterFactory, ColumnTypeEnum, DriverAdapterError } from "@prisma/driver-adapter-utils";
import type { SchemaEngine } from "@prisma/schema-engine-wasm";
import pg from "pg";

// For those who make migrations and compare them, never for a plant: its packages are not among those that npm start installs.

let loadedEngine: Promise<{ readonly SchemaEngine: typeof SchemaEngine }> | undefined;

type PanicHolder = typeof globalThis & { PRISMA_WASM_PANIC_REGISTRY?: { set_message: (message: string) => void } };

/** Prisma's own schema engine as WebAssembly: no native program is fetched. */
async function loadEngine(): Promise<{ readonly SchemaEngine: typeof SchemaEngine }> {
  const engine = await import("@prisma/schema-engine-wasm/schema_engine_bg");
  // Where the engine leaves its last words before it gives up.
  (globalThis as PanicHolder).PRISMA_WASM_PANIC_REGISTRY = {
    set_message: (message) => process.stderr.write(`${message}\n`),
  };
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

/** Runs work with an engine that knows a schema file and is connected to a database. */
export async function withEngine<T>(
  url: string,
  schemaFile: string,
  work: (engine: SchemaEngine) => Promise<T>,
): Promise<T> {
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
