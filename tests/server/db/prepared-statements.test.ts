import pg from "pg";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { columnName } from "@/lib/server/db/columns/table-columns";
import { COLUMN_READERS } from "@/tests/helpers/column-readers";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { readStatements, type Kind, type WrittenColumn, type WrittenStatement } from "@/tests/helpers/sql-statements";

/** How many calls of a file are put together at run time, and of what. A new one is named here, or written so that it can be read. */
const PUT_TOGETHER: Readonly<Record<string, readonly [count: number, of: string]>> = {
  "lib/cli/load-demo.ts": [1, "analyze, of the tables that were filled"],
  "lib/server/backup/copy-stream.ts": [2, "COPY, which is no statement that can be described"],
  "lib/server/backup/load-backup.ts": [8, "keys, triggers and tables that the catalogue names, of an empty database"],
  "lib/server/db/application-role.ts": [2, "the role and its password, quoted"],
  "lib/server/db/embedded.ts": [3, "the database and the role, quoted"],
  "lib/server/db/grants.ts": [1, "grants for each table there is"],
  "lib/server/db/migrate.ts": [1, "the text of a migration"],
  "lib/server/db/transaction.ts": [1, "begin, with its limits"],
  "lib/server/jobs/queue.ts": [2, "statements of pg-boss, each run by tests/server/jobs/queue.test.ts"],
  "lib/server/journal/begin-vouching.ts": [
    1,
    "tables of STATE_COLUMNS, each run by tests/server/journal/states.test.ts",
  ],
  "lib/server/journal/row-hashes.ts": [1, "tables of VOUCHED_COLUMNS, likewise"],
  "lib/server/journal/unvouched-rows.ts": [1, "tables of VOUCHED_KEY, likewise"],
  "lib/server/journal/verify-states.ts": [2, "tables of STATE_COLUMNS, likewise"],
  "lib/server/journal/written-rows.ts": [1, "tables of STATE_COLUMNS, likewise"],
};

/** Files that type a column by hand though its table has a list in lib/server/db/columns, and why. */
const TYPED_BY_HAND: Readonly<Record<string, string>> = {
  "lib/cli/plant-step.ts": "runs before anything of lib/server may be loaded",
  "lib/server/demo/load-demo-plant.ts": "key and id of one of two tables",
  "lib/server/drawings/assert-draft-seen.ts": "state of a drawing's revision or of a plan's",
  "lib/server/plant/change-setup.ts": "id or use of whichever table is named",
};

let database: TestDatabase;
let client: pg.Client;
/** Array types with the type of their elements, and the names of all types. */
let types: ReadonlyMap<number, { readonly name: string; readonly category: string; readonly element: number }>;
/** Readers of columns by the number of their table. */
let readers: ReadonlyMap<number, string>;

beforeAll(async () => {
  database = await createTestDatabase();
  client = new pg.Client({ connectionString: database.url });
  await client.connect();
  const { rows } = await client.query<{ oid: number; name: string; category: string; element: number }>(
    "select oid::int as oid, typname as name, typcategory as category, typelem::int as element from pg_type",
  );
  types = new Map(rows.map((row) => [row.oid, row]));
  const { rows: tables } = await client.query<{ oid: number; name: string }>(
    "select oid::int as oid, relname as name from pg_class where relnamespace = 'public'::regnamespace and relkind = 'r'",
  );
  const oids = new Map(tables.map((row) => [row.name, row.oid]));
  readers = new Map(Object.entries(COLUMN_READERS).map(([name, read]) => [oids.get(read.table) ?? 0, name]));
});
afterAll(async () => {
  await client.end();
  await database.drop();
});

/** A column of a result; `tableID` is the table that it is a plain column of, 0 where it is made of something. */
type Field = { readonly name: string; readonly dataTypeID: number; readonly tableID: number };

/** Asks the server what a statement would give, without running it: PostgreSQL's protocol, Parse and Describe. */
class Description {
  readonly done: Promise<readonly Field[]>;
  private fields: readonly Field[] = [];
  private settle: { readonly resolve: (fields: readonly Field[]) => void; readonly reject: (error: Error) => void };

  constructor(private readonly text: string) {
    let settle: Description["settle"] | undefined;
    this.done = new Promise((resolve, reject) => (settle = { resolve, reject }));
    if (settle === undefined) throw new Error("a promise runs its function at once");
    this.settle = settle;
  }
  submit(connection: pg.Connection): void {
    connection.parse({ name: "", text: this.text, types: [] }, true);
    connection.describe({ type: "S", name: "" }, true);
    connection.sync();
  }
  handleRowDescription(message: { readonly fields: readonly Field[] }): void {
    this.fields = message.fields;
  }
  handleError(error: Error): void {
    this.settle.reject(error);
  }
  handleReadyForQuery(): void {
    this.settle.resolve(this.fields);
  }
}

const describeStatement = (text: string): Promise<readonly Field[]> =>
  client.query(new Description(text) as unknown as pg.Submittable & Description).done;

/** A text that the server may send for a value of each category of type (pg_type.typcategory). */
const SAMPLES: Readonly<Record<string, string>> = { B: "t", D: "2026-11-30 10:00:00+00", N: "1", S: "word", E: "word" };

/** What the driver makes of a value, told by what it makes of a sample: its own parsers, not our knowledge of them. */
function kindOf(oid: number): Kind {
  const type = types.get(oid);
  if (type === undefined) throw new Error(`there is no type ${oid}`);
  const parse = pg.types.getTypeParser(oid) as (text: string) => unknown;
  if (type.name === "json" || type.name === "jsonb") return "any";
  if (type.name === "bytea") return Buffer.isBuffer(parse("\\x00")) ? "bytes" : "string";
  if (type.category === "A") {
    const sample =
      types.get(type.element)?.name === "jsonb"
        ? '{"{}"}'
        : `{"${SAMPLES[types.get(type.element)?.category ?? ""] ?? "1"}"}`;
    const parsed = parse(sample);
    return Array.isArray(parsed) ? `${kindOf(type.element)}[]` : "string";
  }
  const value = parse(SAMPLES[type.category] ?? "1");
  if (value instanceof Date) return "date";
  return typeof value === "number" || typeof value === "boolean" ? (typeof value as Kind) : "string";
}

/** Whether the code may say a kind of what the driver makes of it. */
function fits(said: readonly Kind[], found: Kind): boolean {
  return said.every((kind) => {
    if (kind === "any" || kind === found) return true;
    if (found === "any") return true;
    return found.endsWith("[]") && kind.endsWith("[]") && fits([kind.slice(0, -2) as Kind], found.slice(0, -2) as Kind);
  });
}

function differences(columns: readonly WrittenColumn[], fields: readonly Field[]): string[] {
  const found = new Map(fields.map((field) => [field.name, field.dataTypeID]));
  const twice = fields.filter((field, index) => fields.findIndex((other) => other.name === field.name) !== index);
  return [
    ...twice.map(({ name }) => `${name} comes twice`),
    ...columns.flatMap(({ name, kinds, inside, optional }) => {
      const oid = found.get(name);
      if (oid === undefined) return optional ? [] : [`${name} is not in the result`];
      const kind = kindOf(oid);
      if (kind === "any" && inside.length > 0)
        return [`${name} is ${types.get(oid)?.name}, which holds no ${inside.join(" and no ")} as the code says`];
      return fits(kinds, kind)
        ? []
        : [`${name} is ${kind} (${types.get(oid)?.name}), the code says ${kinds.join(" or ")}`];
    }),
    ...fields
      .filter((field) => !columns.some((column) => column.name === field.name))
      .map((field) => `${field.name} is asked for and not in the type`),
  ];
}

/** What a server plans; the rest (begin, fetch from a cursor, grants) gives no description. */
const isPreparable = (text: string): boolean => /^\s*\(?(select|with|insert|update|delete)\b/i.test(text);

async function problemsOf(statements: readonly WrittenStatement[]): Promise<string[]> {
  const problems: string[] = [];
  for (const { at, texts, columns } of statements)
    for (const text of texts.filter(isPreparable)) {
      try {
        const fields = await describeStatement(text);
        if (columns !== null) problems.push(...differences(columns, fields).map((what) => `${at}: ${what}`));
      } catch (error) {
        problems.push(`${at}: ${(error as Error).message}`);
      }
    }
  return [...new Set(problems)];
}

/** Columns of types of the database's own are selected as text: without that they are plain columns. */
const CAST = new RegExp(
  `\\b(${Object.values(COLUMN_READERS)
    .flatMap((read) => Object.entries(read.columns).filter(([, { type }]) => type.startsWith('"')))
    .map(([name]) => columnName(name))
    .join("|")})::text\\b`,
  "g",
);

/** Plain columns of tables with a list, of which the code says name and type by itself. */
async function typedByHand({ at, texts, columns }: WrittenStatement): Promise<string[]> {
  const [text] = texts.filter(isPreparable);
  if (text === undefined || columns === null) return [];
  // Where the parts of a union have to be text, nothing is a plain column.
  const fields = await describeStatement(text.replaceAll(CAST, "$1")).catch(() => describeStatement(text));
  return fields.flatMap(({ name, tableID }) => {
    const reader = readers.get(tableID);
    const isListed = columns.find((column) => column.name === name)?.isListed ?? true;
    return reader === undefined || isListed ? [] : [`${at}: ${name} stands in ${reader}, take it from there`];
  });
}

describe("every statement that the program sends", () => {
  const statements = readStatements(["lib", "app"]);

  it("can be read from the sources, but for those named here", () => {
    expect(statements.length).toBeGreaterThan(300);
    const unread = statements.filter(({ texts }) => texts.length === 0).map(({ at }) => at.replace(/:\d+$/, ""));
    const counts: Record<string, number> = {};
    for (const { at, texts } of statements) {
      const file = at.replace(/:\d+$/, "");
      if (texts.length === 0) counts[file] = (counts[file] ?? 0) + 1;
    }
    expect(counts).toEqual(Object.fromEntries(Object.entries(PUT_TOGETHER).map(([file, [count]]) => [file, count])));
  });

  it("is seen where code and database do not agree", async () => {
    const column = (name: string, ...kinds: readonly Kind[]): WrittenColumn => ({
      name,
      kinds,
      inside: [],
      optional: false,
      isListed: false,
    });
    const sample = (text: string, ...columns: readonly WrittenColumn[]): WrittenStatement => ({
      at: "sample",
      texts: [text],
      columns,
    });
    const frame = { ...column("frame", "json"), inside: ["date"] };
    const samples: readonly (readonly [WrittenStatement, RegExp])[] = [
      [sample("select no_such_column from frame"), /column "no_such_column" does not exist/],
      [sample("select count(*) as frames from frame", column("frames", "number")), /frames is string \(int8\)/],
      [sample("select avg(1) as mean", column("mean", "number")), /mean is string \(numeric\)/],
      [sample("select shipped_at from frame", column("shipped_at", "string")), /shipped_at is date \(timestamptz\)/],
      [
        sample("select array_agg(state) as states from frame", column("states", "string[]")),
        /states is string \(_FrameState\)/,
      ],
      [sample("select to_jsonb(f) as frame from frame f", frame), /frame is jsonb, which holds no date/],
      [sample("select serial from frame", column("serialNumber", "string")), /serialNumber is not in the result/],
      [sample("select id, serial from frame", column("id", "string")), /serial is asked for and not in the type/],
      [sample("select f.id, b.id from frame f, batch b", column("id", "string")), /id comes twice/],
    ];
    for (const [statement, words] of samples) expect((await problemsOf([statement])).join()).toMatch(words);
    const good = sample(
      "select serial, inspections from frame where id = $1",
      column("serial", "string"),
      column("inspections", "number"),
    );
    expect(await problemsOf([good])).toEqual([]);
  });

  it("takes the columns of a table that has a list from there, but for the files named here", async () => {
    const found: string[] = [];
    for (const statement of statements) found.push(...(await typedByHand(statement)));
    const problems = found.filter((what) => !((what.split(":")[0] ?? "") in TYPED_BY_HAND));
    expect(problems).toEqual([]);
    const files = new Set(found.map((what) => what.split(":")[0]));
    expect(Object.keys(TYPED_BY_HAND).filter((file) => !files.has(file))).toEqual([]);
  });

  it("is seen where it types such a column by hand", async () => {
    const column = (name: string, isListed: boolean): WrittenColumn => ({
      name,
      kinds: ["string"],
      inside: [],
      optional: false,
      isListed,
    });
    const text = `select f.serial, f.state::text as state, b.key as batch, count(*) over () as others, e.reason
      from frame f join batch b on b.id = f.batch_id join escape e on e.frame_id = f.id`;
    const others = [column("others", false), column("reason", false)];
    const typed = (isListed: boolean): WrittenStatement => ({
      at: "sample",
      texts: [text],
      columns: [column("serial", isListed), column("state", isListed), column("batch", isListed), ...others],
    });
    expect(await typedByHand(typed(false))).toEqual([
      "sample: serial stands in frameColumns, take it from there",
      "sample: state stands in frameColumns, take it from there",
      "sample: batch stands in batchColumns, take it from there",
    ]);
    expect(await typedByHand(typed(true))).toEqual([]);
  });

  it("is one that the migrated database can prepare, with the names and types that the code says", async () => {
    expect(await problemsOf(statements)).toEqual([]);
  });
});
