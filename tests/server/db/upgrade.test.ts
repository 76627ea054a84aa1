import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { loadBackup } from "@/lib/server/backup/load-backup";
import { writeBackup } from "@/lib/server/backup/write-backup";
import { migrate, migrationNames, MIGRATIONS_FOLDER } from "@/lib/server/db/migrate";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { readStream } from "@/app/drift/streams/[id]/_components/stream-reading";
import type { SystemViewer } from "@/lib/server/auth/viewer";
import { getStream } from "@/lib/server/drift/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";

type Former = {
  readonly migrations: readonly string[];
  readonly plantId: string;
  readonly anchor: string;
  readonly tables: Readonly<Record<string, readonly string[]>>;
};

/** A plant as an earlier version wrote it, every row as PostgreSQL spells it (tests/helpers/write-former-plant.ts). */
const former = JSON.parse(
  readFileSync(path.join(import.meta.dirname, "../../helpers/former-plant.json"), "utf8"),
) as Former;
/** Run-rule signals as that version raised them on the first stream: two open, one with its cause, one that no longer held. */
const signals: readonly string[] = (["open", "open", "assigned", "overtaken"] as const).map((state, place) => {
  const key = (rows: readonly string[] | undefined) => rows?.[0]?.slice(1).split(",")[1] ?? "";
  const stream = key(former.tables["stream"]);
  const inspection = key(former.tables["inspection"]);
  const cause = state === "assigned" ? `"reamer worn",,"2026-01-02 08:00:00+00"` : ",,";
  const detail = `"{""side"": ""upper"", ""points"": 1}"`;
  const id = `00000000-0000-4000-8000-00000000000${place}`;
  return `(${former.plantId},${id},${stream},zone-${place + 1},${inspection},"2026-01-02 07:00:00+00","2026-01-02 07:00:01+00",${state},${detail},${cause})`;
});
const tables: Former["tables"] = { ...former.tables, signal: signals };
const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-upgrade-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function createFormer(): Promise<TestDatabase> {
  const old = await createTestDatabase(null);
  await migrate(old.url, MIGRATIONS_FOLDER, new Set(former.migrations));
  const client = await old.owner.connect();
  try {
    await client.query("set session_replication_role = replica");
    for (const [table, rows] of Object.entries(tables))
      await client.query(`insert into ${table} select (r::public.${table}).* from unnest($1::text[]) as r`, [rows]);
  } finally {
    client.release(true);
  }
  return old;
}

type Columns = Readonly<Record<string, readonly string[]>>;

async function columnsOf(db: pg.Pool): Promise<Columns> {
  const { rows } = await db.query<{ table: string; columns: string[] }>(
    `select c.relname as table, array_agg(a.attname::text order by a.attnum) as columns from pg_class c
     join pg_attribute a on a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped
     where c.relnamespace = 'public'::regnamespace and c.relkind = 'r' and c.relname <> '_prisma_migrations' group by 1 order by 1`,
  );
  return Object.fromEntries(rows.map(({ table, columns }) => [table, columns]));
}

/** Every value of these columns as PostgreSQL spells it, which keeps every bit of a number. */
async function valuesOf(db: pg.Pool, columns: Columns): Promise<Record<string, readonly string[]>> {
  const found: Record<string, readonly string[]> = {};
  for (const [table, names] of Object.entries(columns)) {
    const list = names.map(pg.escapeIdentifier).join(", ");
    const { rows } = await db.query<{ row: string }>(`select row(${list})::text as row from ${table} order by 1`);
    if (rows.length > 0) found[table] = rows.map(({ row }) => row);
  }
  return found;
}

/** Migrations that are to change what is stored, by the table that they change: none of them may be one of evidence. */
const CHANGES: Readonly<Record<string, readonly string[]>> = {
  // Events of kinds that nobody was ever told of go.
  "20261130183000_messages": ["outbox"],
  // What became of a signal: see the test below.
  "20261201014800_close_earlier_signals": ["signal"],
};

describe("a plant of the first version", () => {
  let old: TestDatabase;
  beforeAll(async () => {
    old = await createFormer();
  });
  afterAll(() => old.drop());

  it("keeps every stored value to the last bit, migration by migration", async () => {
    const names = migrationNames();
    expect(names.slice(0, former.migrations.length)).toEqual(former.migrations);
    for (let count = former.migrations.length; count < names.length; count += 1) {
      const columns = await columnsOf(old.owner);
      const before = await valuesOf(old.owner, columns);
      const next = names[count] ?? "";
      expect(await migrate(old.url, MIGRATIONS_FOLDER, new Set(names.slice(0, count + 1)))).toEqual([next]);
      const after = await valuesOf(old.owner, columns);
      const told = (values: Record<string, readonly string[]>) =>
        Object.fromEntries(Object.entries(values).filter(([table]) => !(CHANGES[next] ?? []).includes(table)));
      expect(told(after), next).toEqual(told(before));
    }
    await prepareDatabase({ ownerUrl: old.url, appUrl: old.appUrl });
    const report = await verifyJournal(former.plantId, { anchor: former.anchor });
    expect(report).toMatchObject({ faults: [], head: former.anchor });
  });

  it("keeps its signals as closed history, to be read on the stream's page", async () => {
    const after = await old.owner.query<{ row: string }>("select s::text as row from signal s order by id");
    const before = await old.owner.query<{ row: string }>(
      "select (r::public.signal)::text as row from unnest($1::text[]) as r order by (r::public.signal).id",
      [signals],
    );
    expect(after.rows).toEqual(before.rows.map(({ row }) => ({ row: row.replace(",open,", ",closed,") })));
    expect(after.rows.filter(({ row }) => row.includes(",closed,"))).toHaveLength(2);
    process.env.DATABASE_URL = old.appUrl;
    const viewer: SystemViewer = { kind: "system", plantId: former.plantId, plantZone: "UTC", name: "test" };
    const stream = signals[0]?.split(",")[2] ?? "";
    const page = await getStream(viewer, stream);
    expect(page.earlierSignals.map(({ rule, cause }) => [rule, cause])).toEqual([
      ["zone-3", "reamer worn"],
      ["zone-2", null],
      ["zone-1", null],
    ]);
    expect(page.cases).toEqual([]);
    expect(readStream(page).standing.kind).toBe("few");
  });

  it("comes to the same through a backup that its own version would have written", async () => {
    const first = await createFormer();
    const to = await createTestDatabase(null);
    try {
      const file = path.join(folder, "former.backup");
      await writeBackup({ url: first.url, folder: null, file, withKeys: false, passphrase: null });
      const none = () => Promise.resolve(null);
      const { about, rows } = await loadBackup(to.url, file, none, () => undefined);
      expect(about.migrations).toEqual(former.migrations);
      expect(Object.values(rows).reduce((sum, count) => sum + count, 0)).toBe(
        Object.values(tables).reduce((sum, table) => sum + table.length, 0),
      );
      await prepareDatabase({ ownerUrl: to.url, appUrl: to.appUrl });
      const columns = await columnsOf(to.owner);
      expect(await valuesOf(to.owner, columns)).toEqual(await valuesOf(old.owner, columns));
      process.env.DATABASE_URL = to.appUrl;
      expect((await verifyJournal(former.plantId, { anchor: former.anchor })).faults).toEqual([]);
    } finally {
      await first.drop();
      await to.drop();
    }
  });
});

describe("a migration that fails", () => {
  it("says how to go on, and the version before works on with what it left", async () => {
    const database = await createTestDatabase();
    try {
      const plant = await createTestPlant({ frames: 2, plan: "routine" });
      const broken = path.join(folder, "migrations");
      cpSync(MIGRATIONS_FOLDER, broken, { recursive: true });
      mkdirSync(path.join(broken, "20990101000000_broken"));
      const script = "alter table frame add column sticker text;\nupdate frame set sticker = 'x';\nselect 1 / 0;";
      writeFileSync(path.join(broken, "20990101000000_broken/migration.sql"), script);
      await expect(migrate(database.url, broken)).rejects.toThrow(
        /The migration 20990101000000_broken could not be applied; the database is as it was before it: division by zero.* Start the Shellgate that ran before, or mend what is said here and start again\./,
      );
      await prepareDatabase({ ownerUrl: database.url, appUrl: database.appUrl });
      expect(await recordInspections(plant.system, [plant.inspection("T-0001")])).toMatchObject([
        { status: "recorded" },
      ]);
      writeFileSync(
        path.join(broken, "20990101000000_broken/migration.sql"),
        "alter table frame add column sticker text;",
      );
      expect(await migrate(database.url, broken)).toEqual(["20990101000000_broken"]);
      await expect(prepareDatabase({ ownerUrl: database.url, appUrl: database.appUrl })).rejects.toThrow(
        /This database is newer than this Shellgate: it has the migration 20990101000000_broken\. Nothing was changed; start the newer Shellgate\./,
      );
    } finally {
      await database.drop();
    }
  });
});
