import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { INSPECTION_TYPES, inspectionColumns } from "@/lib/server/db/columns/inspection";
import { columnName } from "@/lib/server/db/columns/table-columns";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";

/** The lists of lib/server/db/columns, by table. */
const LISTS: Readonly<Record<string, Readonly<Record<string, string>>>> = { inspection: INSPECTION_TYPES };

/** Other spellings of the types that the catalogue writes out (PostgreSQL 15 to 17, chapter 8 Data Types, table 8.1). */
const ALIASES: Readonly<Record<string, string>> = {
  "double precision": "float8",
  integer: "int4",
  smallint: "int2",
  "timestamp with time zone": "timestamptz",
};

const spelled = (type: string): string => {
  const plain = type.replace(/\(\d+\)/, "").replace(/\[\]$/, "");
  return (ALIASES[plain] ?? plain) + (type.endsWith("[]") ? "[]" : "");
};

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(() => database.drop());

describe("the list of a table's columns", () => {
  it.each(Object.entries(LISTS))(
    "of %s has every column of the migrated database with its type",
    async (table, list) => {
      const { rows } = await database.pool.query<{ name: string; type: string }>({
        text: `select attname as name, format_type(atttypid, atttypmod) as type from pg_attribute
        where attrelid = $1::regclass and attnum > 0 and not attisdropped`,
        values: [table],
      });
      const found = Object.fromEntries(rows.map(({ name, type }) => [name, spelled(type)]));
      expect(Object.fromEntries(Object.entries(list).map(([name, type]) => [columnName(name), type]))).toEqual(found);
    },
  );

  it("names what it selects as the code does, without values", () => {
    const columns = inspectionColumns("i", ["id", "offsetsMs"]);
    expect([columns.text, columns.values]).toEqual(['i.id, i.offsets_ms as "offsetsMs"', []]);
  });
});
