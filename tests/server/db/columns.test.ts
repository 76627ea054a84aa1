import { readdirSync } from "node:fs";
import path from "node:path";
import { afterAll, beforeAll, describe, expect, expectTypeOf, it } from "vitest";
import { frameColumns } from "@/lib/server/db/columns/frame";
import { personColumns } from "@/lib/server/db/columns/person";
import { type Column, columnName, orNull, type RowOf } from "@/lib/server/db/columns/table-columns";
import { COLUMN_READERS } from "@/tests/helpers/column-readers";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { ROOT } from "@/tests/rules/source-files";

/** Other spellings of the types that the catalogue writes out (PostgreSQL 15 to 17, chapter 8 Data Types, table 8.1). */
const ALIASES: Readonly<Record<string, string>> = {
  bigint: "int8",
  boolean: "bool",
  "double precision": "float8",
  integer: "int4",
  smallint: "int2",
  "timestamp with time zone": "timestamptz",
};

const spelled = (type: string): string => {
  const plain = type.replace(/\(\d+\)/, "").replace(/\[\]$/, "");
  return (ALIASES[plain] ?? plain) + (type.endsWith("[]") ? "[]" : "");
};

type Listed = Readonly<Record<string, string>>;

/** Lists are left out of what may be null: Prisma's schema cannot say it of them, and makes them without "not null". */
const told = (type: string, isNullable: boolean): string =>
  isNullable && !type.endsWith("[]") ? `${type} or null` : type;

const listed = (columns: Readonly<Record<string, Column<unknown>>>): Listed =>
  Object.fromEntries(
    Object.entries(columns).map(([name, { type, isNullable }]) => [columnName(name), told(type, isNullable)]),
  );

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(() => database.drop());

async function found(table: string): Promise<Listed> {
  const { rows } = await database.pool.query<{ name: string; type: string; isNullable: boolean }>({
    text: `select attname as name, format_type(atttypid, atttypmod) as type, not attnotnull as "isNullable" from pg_attribute
      where attrelid = $1::regclass and attnum > 0 and not attisdropped`,
    values: [table],
  });
  return Object.fromEntries(rows.map(({ name, type, isNullable }) => [name, told(spelled(type), isNullable)]));
}

describe("the list of a table's columns", () => {
  it.each(Object.values(COLUMN_READERS).map((read) => [read.table, read.columns] as const))(
    "of %s has every column of the migrated database with its type, and whether it may be null",
    async (table, columns) => expect(listed(columns)).toEqual(await found(table)),
  );

  it("differs from the database where a column may be null and the code does not say so", async () => {
    const { mould, ...others } = frameColumns.columns;
    expect(mould.isNullable).toBe(true);
    expect(listed({ ...others, mould: { ...mould, isNullable: false } })).not.toEqual(await found("frame"));
  });

  it("is read by the tests, whichever file it stands in", () => {
    const files = readdirSync(path.join(ROOT, "lib/server/db/columns")).filter((file) => file !== "table-columns.ts");
    const tables = Object.values(COLUMN_READERS).map((read) => `${read.table.replaceAll("_", "-")}.ts`);
    expect(tables.sort()).toEqual(files.sort());
  });

  it("names what it selects as the code does, without values", () => {
    const columns = frameColumns("f", ["id", "state", "leasedAt"]);
    expect([columns.text, columns.values]).toEqual(['f.id, f.state::text as "state", f.leased_at as "leasedAt"', []]);
    expect(frameColumns("f", { frameId: "id", frame: "serial" }).text).toBe('f.id as "frameId", f.serial as "frame"');
  });

  it("gives a row the types of its columns, and null where a joined table may have no row", () => {
    const inspector = personColumns("p", { inspector: "name" });
    expectTypeOf<RowOf<typeof inspector>>().toEqualTypeOf<{ readonly inspector: string }>();
    const perhaps = orNull(inspector);
    expect(perhaps.text).toBe('p.name as "inspector"');
    expectTypeOf<RowOf<typeof perhaps>>().toEqualTypeOf<{ readonly inspector: string | null }>();
  });
});
