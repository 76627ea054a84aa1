import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { afterAll, beforeAll, expect, test } from "vitest";
import { diffDatabaseAgainstSchema, SCHEMA_FILE } from "@/lib/cli/compare-schema";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

let database: TestDatabase;
const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-schema-"));

beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => {
  await database.drop();
  rmSync(folder, { recursive: true });
});

function changedSchema(change: (text: string) => string): string {
  const file = path.join(folder, "schema.prisma");
  const before = readFileSync(SCHEMA_FILE, "utf8");
  const after = change(before);
  expect(after).not.toBe(before);
  writeFileSync(file, after);
  return file;
}

test("schema.prisma and the migrated database do not differ", async () => {
  expect(await diffDatabaseAgainstSchema(database.url)).toBe("");
});

test("a column that only schema.prisma has is found", async () => {
  const file = changedSchema((text) =>
    text.replace(/(model Plant \{\n)/, '$1  notMigrated Int @map("not_migrated")\n'),
  );
  expect(await diffDatabaseAgainstSchema(database.url, file)).toContain(
    'ADD COLUMN     "not_migrated" INTEGER NOT NULL',
  );
});

test("a column, an index and a default that only the database has are found", async () => {
  await database.owner.query(`alter table plant add column extra text default 'x'`);
  await database.owner.query("create index extra_index on plant (name)");
  const difference = await diffDatabaseAgainstSchema(database.url);
  expect(difference).toContain('DROP COLUMN "extra"');
  expect(difference).toContain('DROP INDEX "extra_index"');
});
