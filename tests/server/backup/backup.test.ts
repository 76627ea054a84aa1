import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync } from "node:fs";
import { execFileSync } from "node:child_process";
import { createHash } from "node:crypto";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { emptyDatabase, loadBackup } from "@/lib/server/backup/load-backup";
import { readBackup } from "@/lib/server/backup/read-backup";
import { type BackupWish, writeBackup } from "@/lib/server/backup/write-backup";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { enqueue } from "@/lib/server/jobs/queue";
import { anchorJournal } from "@/lib/server/journal/anchor-journal";
import { beginVouching } from "@/lib/server/journal/begin-vouching";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { anchorJob } from "@/lib/server/worker/anchor-job";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-backup-"));
const data = path.join(folder, "plant");
const PASSPHRASE = "correct horse battery staple";

let database: TestDatabase;
let plant: TestPlant;
let anchor: string | null;
let number = 0;
const newFile = (): string => path.join(folder, `b${(number += 1)}.backup`);
const none = (): Promise<string | null> => Promise.resolve(null);
const backUp = (more: Partial<BackupWish> = {}) =>
  writeBackup({ url: database.appUrl, folder: data, file: newFile(), withKeys: true, passphrase: null, ...more });

/** Every row of every table as PostgreSQL spells it, sorted: equal where every bit is. */
async function allRows(url: string): Promise<Record<string, readonly string[]>> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    const { rows: tables } = await client.query<{ name: string }>(
      `select n.nspname || '.' || c.relname as name from pg_class c join pg_namespace n on n.oid = c.relnamespace
       where n.nspname in ('public', 'jobs') and c.relkind = 'r' and c.relname not in ('_prisma_migrations', 'worker', 'version', 'queue')`,
    );
    const found: Record<string, readonly string[]> = {};
    for (const { name } of tables) {
      const { rows } = await client.query<{ row: string }>(`select t::text as row from ${name} t order by 1`);
      if (rows.length > 0) found[name] = rows.map(({ row }) => row);
    }
    return found;
  } finally {
    await client.end();
  }
}

/** Constraints, and triggers with whether they are on. */
async function guardsOf(url: string): Promise<readonly string[]> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  try {
    const { rows } = await client.query<{ guard: string }>(
      `select conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) || convalidated as guard from pg_constraint
       union all select indexdef from pg_indexes where schemaname in ('public', 'jobs')
       union all select tgrelid::regclass || ' ' || tgname || ' ' || tgenabled::text from pg_trigger where not tgisinternal order by 1`,
    );
    return rows.map(({ guard }) => guard);
  } finally {
    await client.end();
  }
}

async function restored<T>(
  file: string,
  look: (to: TestDatabase, files: Map<string, string>) => Promise<T>,
  pass = none,
): Promise<T> {
  const to = await createTestDatabase(null);
  try {
    const files = new Map<string, string>();
    await loadBackup(to.url, file, pass, (name, content) => files.set(name, content.toString()));
    await prepareDatabase({ ownerUrl: to.url, appUrl: to.appUrl });
    return await look(to, files);
  } finally {
    await to.drop();
    process.env.DATABASE_URL = database.appUrl;
  }
}

beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 6 });
  const values = ["0.1", "1e-300", "40.97500000000001"].map(Number);
  const odd = Object.fromEntries(
    ["nds.bore.a1.o0", "ds.bore.a1.o0"].map((name, at) => [name, 40.97 + (values[at] ?? 0) / 1e3]),
  );
  const inspections = ["T-0001", "T-0002", "T-0003"].map((serial) =>
    plant.inspection(serial, serial === "T-0003" ? odd : {}),
  );
  await recordInspections(plant.system, inspections);
  const engineer = await plant.as("engineer");
  await beginVouching(plant.plantId);
  await withdrawInspection(engineer, {
    id: inspections[1]?.id ?? "",
    reason: "tab\there, \\N and a line\nbreak ✓",
  });
  anchor = await anchorJournal(plant.plantId);
  const client = await database.pool.connect();
  await enqueue(client, anchorJob, {}, { startAfter: 3600 });
  client.release();
  execFileSync("mkdir", ["-p", path.join(data, "tls"), path.join(data, "postgres/base")]);
  for (const [name, text] of Object.entries({
    "auth-secret": "s".repeat(43),
    "tls/plant-ca.key": "key",
    "started-empty": "",
    "database-password": "never",
    "postgres/base/1": "never",
    "in-use.json": "never",
  }))
    writeFileSync(path.join(data, name), text, { mode: 0o600 });
});
afterAll(async () => {
  await database.drop();
  rmSync(folder, { recursive: true, force: true });
});

describe("a backup", () => {
  it("gives every row, guard and file again, to the last bit, and the journal proves it", async () => {
    const progress: number[] = [];
    const written = await backUp({ onProgress: (rows) => progress.push(rows) });
    expect(statSync(written.file).mode & 0o777).toBe(0o600);
    expect(written.bytes).toBe(statSync(written.file).size);
    expect(written.sha256).toBe(createHash("sha256").update(readFileSync(written.file)).digest("hex"));
    expect(written.anchors).toEqual([{ plantId: plant.plantId, hash: anchor }]);
    const before = await allRows(database.url);
    expect(written.rows).toBe(Object.values(before).reduce((sum, rows) => sum + rows.length, 0));
    expect(progress.at(-1)).toBe(written.rows);
    const guards = await guardsOf(database.url);
    await restored(written.file, async (to, files) => {
      expect(await allRows(to.url)).toEqual(before);
      expect(await guardsOf(to.url)).toEqual(guards);
      expect(Object.fromEntries(files)).toEqual({
        "auth-secret": "s".repeat(43),
        "tls/plant-ca.key": "key",
        "started-empty": "",
      });
      const report = await verifyJournal(plant.plantId, { anchor: anchor ?? "" });
      expect(report).toMatchObject({ faults: [], head: anchor });
      expect(report.rows).toBeGreaterThan(10);
      const next = "select last_value from vouching_order";
      expect((await to.owner.query(next)).rows).toEqual((await database.owner.query(next)).rows);
      // Evidence is guarded there as it was here, and work goes on.
      await expect(to.owner.query("update inspection set note = 'x'")).rejects.toThrow();
      const [recorded] = await recordInspections(plant.system, [plant.inspection("T-0004")]);
      expect(recorded?.status).toBe("recorded");
    });
  });

  it("is an archive that tar and COPY read without Shellgate", async () => {
    const { file } = await backUp();
    const listed = execFileSync("tar", ["-tzf", file], { encoding: "utf8" }).trim().split("\n");
    expect(listed[0]).toBe("about.json");
    expect(listed.at(-1)).toBe("contents.json");
    const part = execFileSync("tar", ["-xzOf", file, "tables/public.frame/000001.copy"], { encoding: "utf8" });
    const { rows } = await database.owner.query<{ count: number }>("select count(*)::int as count from frame");
    expect(part.trimEnd().split("\n")).toHaveLength(rows[0]?.count ?? -1);
  });

  it("is of one moment, whatever is written meanwhile", async () => {
    const before = await allRows(database.url);
    let wrote: Promise<unknown> | null = null;
    const { file } = await backUp({
      onProgress: () => {
        wrote ??= recordInspections(plant.system, [plant.inspection("T-0005")]);
      },
    });
    await wrote;
    expect(await allRows(database.url)).not.toEqual(before);
    await restored(file, async (to) => expect(await allRows(to.url)).toEqual(before));
  });

  it("leaves the keys out where that is wanted", async () => {
    const { file, files } = await backUp({ withKeys: false });
    expect(files).toBe(1);
    await restored(file, async (_to, found) => expect([...found.keys()]).toEqual(["started-empty"]));
  });

  it("opens by its passphrase only, where it has one", async () => {
    const { file } = await backUp({ passphrase: PASSPHRASE });
    expect(readFileSync(file).includes("about.json")).toBe(false);
    const before = await allRows(database.url);
    await restored(
      file,
      async (to) => expect(await allRows(to.url)).toEqual(before),
      () => Promise.resolve(PASSPHRASE),
    );
    await expect(refusal(file, () => Promise.resolve("another passphrase"))).resolves.toMatch(
      /passphrase does not open this backup/,
    );
    await expect(refusal(file, none)).resolves.toMatch(/This backup is encrypted/);
    await expect(backUp({ passphrase: "short" })).rejects.toThrow(/at least 12 characters/);
  });
});

/** What is said of a file that cannot be restored. */
async function refusal(
  file: string,
  pass = none,
  after: (to: TestDatabase) => Promise<unknown> = async () => {},
): Promise<string> {
  const to = await createTestDatabase(null);
  try {
    const words = await loadBackup(to.url, file, pass, () => undefined).then(
      () => "",
      (error: Error) => (error.name === "AppError" ? error.message : `not in words: ${error.stack}`),
    );
    await after(to);
    return words;
  } finally {
    await to.drop();
    process.env.DATABASE_URL = database.appUrl;
  }
}

describe("a file that is not as it was written", () => {
  it("is refused in words, wherever it was cut", async () => {
    const [plain, sealed] = [(await backUp()).file, (await backUp({ passphrase: PASSPHRASE })).file];
    const read = (file: string) =>
      readBackup(file, () => Promise.resolve(PASSPHRASE), { begin: async () => {}, take: async () => {} });
    await read(plain);
    for (const file of [plain, sealed]) {
      const size = statSync(file).size;
      const half = Math.floor(size / 2);
      for (const length of file === plain ? [size - 1, size - 8, half, 300, 70, 20, 1, 0] : [half, 25, 10]) {
        const whole = readFileSync(file);
        truncateSync(file, length);
        await expect(read(file), `${length} of ${size}`).rejects.toThrow(/not whole|is not a backup of Shellgate/);
        writeFileSync(file, whole);
      }
    }
    truncateSync(plain, statSync(plain).size - 100);
    const words = await refusal(plain, none, async (to) => {
      // It can be filled again.
      await emptyDatabase(to.url);
      await prepareDatabase({ ownerUrl: to.url, appUrl: to.appUrl });
    });
    expect(words).toMatch(/not whole/);
  });

  it("is refused in words, wherever a byte was changed", async () => {
    for (const passphrase of [null, PASSPHRASE]) {
      const { file, bytes } = await backUp({ passphrase });
      const whole = readFileSync(file);
      for (const at of passphrase === null ? [200, Math.floor(bytes / 3), bytes - 3] : [200, bytes - 3]) {
        const changed = Buffer.from(whole);
        changed[at] = (changed[at] ?? 0) ^ 0x55;
        writeFileSync(file, changed);
        const read = readBackup(file, () => Promise.resolve(PASSPHRASE), {
          begin: async () => {},
          take: async () => {},
        });
        await expect(read, `byte ${at}`).rejects.toThrow(/damaged|altered|not whole/);
      }
    }
  });

  it("is refused where it is no backup, a folder, or not there", async () => {
    const file = newFile();
    writeFileSync(file, "hello, this is a letter to somebody else");
    expect(await refusal(file)).toMatch(/is not a backup of Shellgate/);
    expect(await refusal(folder)).toMatch(/is a folder/);
    expect(await refusal(path.join(folder, "nothing"))).toMatch(/There is no file/);
    const other = newFile();
    execFileSync("tar", ["-czf", other, "-C", data, "auth-secret"]);
    expect(await refusal(other)).toMatch(/is not a backup of Shellgate/);
  });

  it("is refused where a newer Shellgate wrote it", async () => {
    await database.owner.query(
      "insert into _prisma_migrations (id, checksum, migration_name, finished_at) values ('n', 'n', '20990101000000_newer', now())",
    );
    const { file } = await backUp().finally(() =>
      database.owner.query("delete from _prisma_migrations where id = 'n'"),
    );
    expect(await refusal(file)).toMatch(/of a newer Shellgate .*20990101000000_newer.*Nothing was changed/);
  });

  it("is refused by a database that is not empty, which stays as it is", async () => {
    const { file } = await backUp();
    const before = await allRows(database.url);
    await expect(loadBackup(database.url, file, none, () => undefined)).rejects.toThrow(/not empty: it has the table/);
    expect(await allRows(database.url)).toEqual(before);
  });
});

describe("a backup that cannot be written", () => {
  it("does not take the place of what is there", async () => {
    const file = newFile();
    writeFileSync(file, "mine");
    await expect(backUp({ file })).rejects.toThrow(/is there already\. Nothing was written/);
    expect(readFileSync(file, "utf8")).toBe("mine");
  });

  it("waits for no other: the second of two at once is told, and the first is whole", async () => {
    const results = await Promise.allSettled([backUp(), backUp()]);
    const done = results.filter((one) => one.status === "fulfilled");
    const told = results.filter((one) => one.status === "rejected").map((one) => String(one.reason));
    expect(done).toHaveLength(1);
    expect(told).toEqual([expect.stringMatching(/Another backup of this plant is being written/)]);
    await restored(done[0]?.value.file ?? "", async () => {});
  });

  it("is broken off, and removes what one that was killed has left", async () => {
    const left = path.join(folder, "shellgate-20260101T000000Z.backup.999999.part");
    writeFileSync(left, "half");
    const abort = new AbortController();
    const broken = backUp({ signal: abort.signal, onProgress: () => abort.abort(new Error("broken off")) });
    await expect(broken).rejects.toThrow("broken off");
    expect(readdirSync(folder).filter((name) => name.endsWith(".part"))).toEqual([]);
    await backUp();
  });

  it("says that a folder may not be written", async () => {
    const file = path.join(folder, "b1.backup", "x.backup");
    await expect(backUp({ file })).rejects.toThrow(
      /could not be written: a file is in its path\. Nothing was left behind/,
    );
  });
});
