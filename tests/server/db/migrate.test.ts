import { execFile, spawn } from "node:child_process";
import { once } from "node:events";
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { promisify } from "node:util";
import { afterAll, afterEach, beforeEach, describe, expect, test } from "vitest";
import { SCHEMA_FILE } from "@/lib/cli/compare-schema";
import { withEngine } from "@/lib/cli/schema-engine";
import { migrate, MIGRATIONS_FOLDER } from "@/lib/server/db/migrate";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

const base = mkdtempSync(path.join(os.tmpdir(), "shellgate-migrations-"));
let database: TestDatabase;
let folder = "";
let number = 0;

beforeEach(async () => {
  number += 1;
  folder = path.join(base, String(number));
  cpSync(MIGRATIONS_FOLDER, folder, { recursive: true });
  database = await createTestDatabase(null);
});
afterEach(() => database.drop());
afterAll(() => rmSync(base, { recursive: true, force: true }));

const shipped = readdirSync(MIGRATIONS_FOLDER)
  .filter((name) => /^\d{14}_/.test(name))
  .sort();

function addMigration(name: string, text: string): void {
  mkdirSync(path.join(folder, name), { recursive: true });
  writeFileSync(path.join(folder, name, "migration.sql"), text);
}

const tables = async (): Promise<readonly string[]> => {
  const { rows } = await database.owner.query<{ name: string }>(
    "select tablename as name from pg_tables where schemaname = 'public' order by 1",
  );
  return rows.map((row) => row.name);
};

describe("migrate", () => {
  test("applies all migrations once and keeps the history that Prisma's command line reads", async () => {
    expect(await migrate(database.url, folder)).toEqual(shipped);
    expect(await migrate(database.url, folder)).toEqual([]);
    const { rows } = await database.owner.query(
      `select migration_name, applied_steps_count as steps, finished_at is not null as finished,
              length(checksum) as checksum, rolled_back_at as rolled_back
         from _prisma_migrations order by started_at`,
    );
    expect(rows).toEqual(
      shipped.map((name) => ({ migration_name: name, steps: 1, finished: true, checksum: 64, rolled_back: null })),
    );
  });

  test("two processes that start together migrate once", async () => {
    const results = await Promise.all([migrate(database.url, folder), migrate(database.url, folder)]);
    expect(results.flat().sort()).toEqual(shipped);
  });

  test("keeps functions, comments and texts with semicolons whole", async () => {
    const name = "20990101000000_semicolons";
    addMigration(
      name,
      `-- a comment; with a semicolon
       create table words (word text); insert into words values ('a;b');
       create function twice(x int) returns int language plpgsql as $$ begin x := x + x; return x; end $$;`,
    );
    expect(await migrate(database.url, folder)).toEqual([...shipped, name]);
    const { rows } = await database.owner.query("select word, twice(4) as eight from words");
    expect(rows).toEqual([{ word: "a;b", eight: 8 }]);
  });

  test("a migration that fails leaves the database as it was, says why, and can be mended", async () => {
    await migrate(database.url, folder);
    const before = await tables();
    const name = "20990101000000_bad";
    addMigration(name, "create table half (x int); insert into half values ('word');");
    await expect(migrate(database.url, folder)).rejects.toThrow(
      /20990101000000_bad could not be applied; the database is as it was before it: invalid input syntax for type integer: "word"\. Start/,
    );
    expect(await tables()).toEqual(before);
    const { rows } = await database.owner.query(
      `select finished_at, applied_steps_count as steps, logs, rolled_back_at is not null as rolled_back
         from _prisma_migrations where migration_name = '${name}'`,
    );
    expect(rows).toEqual([
      {
        finished_at: null,
        steps: 0,
        logs: 'invalid input syntax for type integer: "word"',
        rolled_back: true,
      },
    ]);
    addMigration(name, "create table half (x int); insert into half values (1);");
    expect(await migrate(database.url, folder)).toEqual([name]);
  });

  test("what was applied before one that fails stays and is said", async () => {
    addMigration("20990101000000_good", "create table good (x int);");
    addMigration("20990101000001_alone", "create index concurrently alone on good (x);");
    await expect(migrate(database.url, folder)).rejects.toThrow(
      new RegExp(`20990101000001_alone could not be applied.*transaction block.* The ${shipped.length + 1} before it`),
    );
    expect(await tables()).toContain("good");
  });

  test("a process killed in the middle of a migration leaves nothing of it, and the next one applies it", async () => {
    await migrate(database.url, folder);
    const name = "20990101000000_slow";
    addMigration(name, "create table slow (x int); select pg_sleep(4); insert into slow values (1);");
    const killed = spawn(process.execPath, [
      "lib/cli/run.mjs",
      "tests/helpers/migrate-folder.ts",
      database.url,
      folder,
    ]);
    const isSleeping = async (): Promise<boolean> => {
      const { rows } = await database.owner.query(
        "select from pg_stat_activity where query like '%pg_sleep(4)%' and pid <> pg_backend_pid() and state = 'active' and datname = current_database()",
      );
      return rows.length > 0;
    };
    while (!(await isSleeping())) await sleep(20);
    killed.kill("SIGKILL");
    await once(killed, "exit");
    expect(await migrate(database.url, folder)).toEqual([name]);
    const { rows } = await database.owner.query(
      `select (select count(*)::int from slow) as rows,
              (select count(*)::int from _prisma_migrations where migration_name = '${name}') as noted`,
    );
    expect(rows).toEqual([{ rows: 1, noted: 1 }]);
  });

  test("tries again what a killed process of an older Shellgate began and did not finish", async () => {
    await migrate(database.url, folder);
    await database.owner.query(
      `insert into _prisma_migrations (id, checksum, migration_name, started_at, applied_steps_count)
       values ('x', repeat('0', 64), '20990101000000_cut_off', now(), 0)`,
    );
    addMigration("20990101000000_cut_off", "create table after_cut (x int);");
    expect(await migrate(database.url, folder)).toEqual(["20990101000000_cut_off"]);
  });

  test("refuses a database that is newer than the folder and changes nothing", async () => {
    addMigration("20990101000000_newer", "create table newer (x int);");
    await migrate(database.url, folder);
    rmSync(path.join(folder, "20990101000000_newer"), { recursive: true });
    await expect(migrate(database.url, folder)).rejects.toThrow(/newer than this Shellgate: .*20990101000000_newer/);
    expect(await tables()).toContain("newer");
  });

  test("refuses migrations that were edited after they had been applied", async () => {
    addMigration("20990101000000_first", "create table first_text (x int);");
    await migrate(database.url, folder);
    addMigration("20990101000000_first", "create table second_text (x int);");
    await expect(migrate(database.url, folder)).rejects.toThrow(
      /20990101000000_first is not the one that made this database/,
    );
    expect(await tables()).not.toContain("second_text");
  });

  test("a file whose lines end as on another system is the same migration", async () => {
    addMigration("20990101000000_lines", "create table lines (\n  x int\n);\n");
    await migrate(database.url, folder);
    addMigration("20990101000000_lines", "create table lines (\r\n  x int\r\n);\r\n");
    expect(await migrate(database.url, folder)).toEqual([]);
  });

  test("refuses a database in which somebody else has tables", async () => {
    await database.owner.query("create table stock (x int)");
    await expect(migrate(database.url, folder)).rejects.toThrow(
      /tables that Shellgate did not make \(stock\)\. Nothing was changed/,
    );
    expect(await tables()).toEqual(["stock"]);
  });

  test("no shipped migration ends its own transaction or needs none", () => {
    const outside = (text: string): string => text.replaceAll(/(\$\w*\$)[\s\S]*?\1|--.*|'[^']*'/g, "");
    const breaking = /\b(begin|start transaction|commit|rollback|savepoint|concurrently|vacuum)\b/i;
    expect(outside("create function f() as $$ begin commit; end $$; -- commit")).not.toMatch(breaking);
    expect(outside("create table a (x int); commit;")).toMatch(breaking);
    const texts = shipped.map((name) => readFileSync(path.join(MIGRATIONS_FOLDER, name, "migration.sql"), "utf8"));
    expect(texts.filter((text) => breaking.test(outside(text)))).toEqual([]);
  });
});

/** Prisma's own schema engine, which wrote the history of every version before. */
describe("the history", () => {
  const listOf = (names: readonly string[]) => ({
    migrationsList: {
      baseDir: folder,
      lockfile: { path: "migration_lock.toml", content: 'provider = "postgresql"\n' },
      shadowDbInitScript: "",
      migrationDirectories: names.map((name) => ({
        path: name,
        migrationFile: {
          path: "migration.sql",
          content: { tag: "ok" as const, value: readFileSync(path.join(folder, name, "migration.sql"), "utf8") },
        },
      })),
    },
    filters: { externalTables: [], externalEnums: [] },
  });
  const byEngine = (url: string, names: readonly string[]): Promise<{ readonly appliedMigrationNames: string[] }> =>
    withEngine(url, SCHEMA_FILE, (engine) => engine.applyMigrations(listOf(names)));

  const shapeOf = async (of: TestDatabase): Promise<unknown> => {
    const { rows: columns } = await of.owner.query(`
      select a.attname, format_type(a.atttypid, a.atttypmod) as type, a.attnotnull, pg_get_expr(d.adbin, d.adrelid) as preset
        from pg_attribute a left join pg_attrdef d on d.adrelid = a.attrelid and d.adnum = a.attnum
       where a.attrelid = '_prisma_migrations'::regclass and a.attnum > 0 order by a.attnum`);
    const { rows: keys } = await of.owner.query(
      "select conname, pg_get_constraintdef(oid) as is from pg_constraint where conrelid = '_prisma_migrations'::regclass order by 1",
    );
    const { rows: entries } = await of.owner.query(`
      select migration_name, checksum, applied_steps_count, logs, rolled_back_at, id ~ '^[0-9a-f-]{36}$' as is_uuid,
             finished_at >= started_at and started_at > now() - interval '10 minutes' as in_time
        from _prisma_migrations order by started_at`);
    return { columns, keys, entries };
  };

  test("is what Prisma's own engine writes, table and rows", async () => {
    const other = await createTestDatabase(null);
    try {
      expect((await byEngine(other.url, shipped)).appliedMigrationNames).toEqual(shipped);
      await migrate(database.url, folder);
      expect(await shapeOf(database)).toEqual(await shapeOf(other));
    } finally {
      await other.drop();
    }
  });

  test("of a database that Prisma's engine began is gone on with", async () => {
    await byEngine(database.url, shipped.slice(0, 3));
    expect(await migrate(database.url, folder)).toEqual(shipped.slice(3));
    expect(await migrate(database.url, folder)).toEqual([]);
  });

  test("of a migration that failed under Prisma's engine does not stand in the way", async () => {
    const name = "20990101000000_bad";
    addMigration(name, "create table half (x int); insert into half values ('word');");
    await expect(byEngine(database.url, [...shipped, name])).rejects.toThrow(/word/);
    await expect(migrate(database.url, folder)).rejects.toThrow(/could not be applied/);
    addMigration(name, "create table half (x int); insert into half values (1);");
    expect(await migrate(database.url, folder)).toEqual([name]);
  });

  test("is read and gone on with by the Prisma command line, and the other way round", async () => {
    const engine = path.join(folder, "schema-engine");
    const root = path.resolve(import.meta.dirname, "../../..");
    const program = `#!/bin/sh\ncd '${root}' && exec '${process.execPath}' lib/cli/run.mjs tests/helpers/schema-engine-program.ts "$@"\n`;
    writeFileSync(engine, program, { mode: 0o755 });
    const config = path.join(folder, "prisma.config.mjs");
    writeFileSync(
      config,
      `export default ${JSON.stringify({ schema: SCHEMA_FILE, migrations: { path: folder }, datasource: { url: database.url } })};`,
    );
    const prisma = async (...words: readonly string[]): Promise<string> => {
      const command = path.join(root, "node_modules/prisma/build/index.js");
      expect(existsSync(command)).toBe(true);
      const env = { ...process.env, PRISMA_SCHEMA_ENGINE_BINARY: engine, CHECKPOINT_DISABLE: "1" };
      const ran = promisify(execFile)(process.execPath, [command, ...words, "--config", config], { cwd: root, env });
      return ran.then(
        ({ stdout }) => stdout,
        (error: { stdout: string; stderr: string }) => `${error.stdout}\n${error.stderr}`,
      );
    };
    await migrate(database.url, folder);
    expect(await prisma("migrate", "status")).toMatch(
      new RegExp(`${shipped.length} migrations found[\\s\\S]*Database schema is up to date!`),
    );
    const name = "20990101000000_by_the_command_line";
    addMigration(name, "create table by_the_command_line (x int);");
    expect(await prisma("migrate", "status")).toMatch(
      /have not yet been applied:\s+20990101000000_by_the_command_line/,
    );
    expect(await prisma("migrate", "deploy")).toMatch(/All migrations have been successfully applied/);
    expect(await tables()).toContain("by_the_command_line");
    expect(await migrate(database.url, folder)).toEqual([]);
  });
});
