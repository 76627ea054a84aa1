import { cpSync, mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { afterAll, afterEach, beforeEach, describe, expect, test } from "vitest";
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
      /could not be migrated and is as it was before: [\s\S]*invalid input syntax for type integer: "word"/,
    );
    expect(await tables()).toEqual(before);
    addMigration(name, "create table half (x int); insert into half values (1);");
    expect(await migrate(database.url, folder)).toEqual([name]);
  });

  test("tries again what a killed process began and did not finish", async () => {
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
});
