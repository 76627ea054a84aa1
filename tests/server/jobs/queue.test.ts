import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { createRequire } from "node:module";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { migrate, MIGRATIONS_FOLDER } from "@/lib/server/db/migrate";
import { getPool } from "@/lib/server/db/client";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { defineJob, type Job } from "@/lib/server/jobs/define-job";
import { claim, complete, enqueue, enqueueRecurring, release } from "@/lib/server/jobs/queue";
import { BrokenOff, runClaimed, runDueJobs } from "@/lib/server/jobs/run-job";
import { ALL_JOBS } from "@/lib/server/worker/all-jobs";
import { anchorJob } from "@/lib/server/worker/anchor-job";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";

let database: TestDatabase;
const ran: string[] = [];
const note = defineJob({
  name: "test.note",
  title: "note a word",
  schema: z.strictObject({ word: z.string() }),
  run: async ({ word }, { attempt }) => {
    ran.push(`${word} ${attempt}`);
    if (word === "bad") throw new AppError("unavailable", "The receiver did not answer. Nothing was sent.");
  },
  tries: 3,
});
const every = defineJob({
  name: "test.every",
  title: "look again",
  schema: z.strictObject({}),
  everyS: 60,
  run: async () => void ran.push("every"),
});

beforeAll(async () => {
  database = await createTestDatabase();
  for (const { name } of [note, every])
    await database.owner.query(`select jobs.create_queue('${name}', '{"policy": "short"}')`);
});
afterAll(() => database.drop());
beforeEach(async () => {
  ran.length = 0;
  await database.owner.query("delete from jobs.job");
});

type Row = { state: string; tries: number; message: string | null; wait: number | null };
const rows = async ({ name }: Job<never> | Job<{ word: string }> | typeof every): Promise<readonly Row[]> =>
  (
    await database.owner.query<Row>(
      `select state::text as state, retry_count + 1 as tries, output ->> 'message' as message,
         round(extract(epoch from start_after - now()))::int as wait from jobs.job where name = $1 order by created_on`,
      [name],
    )
  ).rows;

describe("the queue's tables", () => {
  it("are those that the package makes itself", () => {
    const { getConstructionPlans } = createRequire(import.meta.url)("pg-boss") as {
      getConstructionPlans: (schema: string) => string;
    };
    const plain = (text: string): string => text.replace(/\s+/g, " ").trim();
    const own = getConstructionPlans("jobs");
    const begun = own.slice(own.indexOf("CREATE SCHEMA"), own.lastIndexOf("COMMIT"));
    const file = path.join(MIGRATIONS_FOLDER, "20261130175000_job_queue/migration.sql");
    expect(plain(readFileSync(file, "utf8"))).toContain(plain(begun));
  });
});

describe("a plant of the version before the queue", () => {
  it("gains it with the migration, and its journal is anchored by a job", async () => {
    const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-former-"));
    for (const name of readdirSync(MIGRATIONS_FOLDER).filter((one) => one < "20261130175000"))
      cpSync(path.join(MIGRATIONS_FOLDER, name), path.join(folder, name), { recursive: true });
    const former = await createTestDatabase(null);
    try {
      await migrate(former.url, folder);
      const plantId = "00000000-0000-7000-8000-00000000000a";
      await former.owner.query(`
        insert into plant (id, key, name, time_zone, invented) values ('${plantId}', 'old', 'Old plant', 'UTC', false);
        insert into outbox (plant_id, id, topic, payload) values ('${plantId}', '${plantId}', 'batch.held', '{}')`);
      await prepareDatabase({ ownerUrl: former.url, appUrl: former.appUrl });
      await enqueueRecurring(getPool(), ALL_JOBS);
      expect(await runDueJobs([anchorJob])).toBe(1);
      const { rows } = await getPool().query(
        "select (select count(*)::int from journal_entry where action = 'journal.anchored') as anchors, (select count(*)::int from outbox) as outbox",
      );
      expect(rows).toEqual([{ anchors: 1, outbox: 1 }]);
    } finally {
      await former.drop();
      rmSync(folder, { recursive: true, force: true });
      process.env.DATABASE_URL = database.appUrl;
    }
  });
});

describe("enqueue", () => {
  it("adds a job with the command's transaction, and none where that is rolled back", async () => {
    await expect(
      inSqlTransaction(async (db) => {
        await enqueue(db, note, { word: "lost" });
        throw new Error("the command failed");
      }),
    ).rejects.toThrow("the command failed");
    const id = await inSqlTransaction((db) => enqueue(db, note, { word: "kept" }));
    expect(id).toMatch(/^[0-9a-f-]{36}$/);
    expect(await runDueJobs([note])).toBe(1);
    expect(ran).toEqual(["kept 1"]);
    expect(await rows(note)).toMatchObject([{ state: "completed" }]);
  });

  it("refuses data that the job does not take, and a job that no migration knows", async () => {
    await expect(enqueue(getPool(), note, { word: 1 } as never)).rejects.toThrow(/word/);
    const unknown = defineJob({ ...note, name: "test.unknown" });
    await expect(enqueue(getPool(), unknown, { word: "x" })).rejects.toThrow("no migration made the queue");
  });

  it("adds one of a key while one waits, and any number without a key", async () => {
    expect(await enqueue(getPool(), note, { word: "one" }, { key: "k" })).not.toBeNull();
    expect(await enqueue(getPool(), note, { word: "two" }, { key: "k" })).toBeNull();
    expect(await enqueue(getPool(), note, { word: "other" }, { key: "l" })).not.toBeNull();
    for (const word of ["a", "b"]) expect(await enqueue(getPool(), note, { word })).not.toBeNull();
    expect(await runDueJobs([note])).toBe(4);
    expect(ran.sort()).toEqual(["a 1", "b 1", "one 1", "other 1"]);
  });

  it("leaves a job alone until its moment", async () => {
    await enqueue(getPool(), note, { word: "soon" }, { startAfter: 60 });
    await enqueue(getPool(), note, { word: "then" }, { startAfter: new Date(Date.now() + 3_600_000) });
    expect(await runDueJobs([note])).toBe(0);
    const waits = (await rows(note)).map(({ wait }) => wait);
    // 60 s and an hour from now, within what the test itself takes.
    expect(waits[0]).toBeGreaterThan(50);
    expect(waits[1]).toBeGreaterThan(3_590);
    expect(Math.max(...waits.map(Number))).toBeLessThanOrEqual(3_600);
  });
});

describe("a job that is begun", () => {
  it("is no other worker's, and while it runs another of its key waits", async () => {
    await enqueue(getPool(), note, { word: "one" }, { key: "k" });
    const [one, other] = await Promise.all([claim(note.name, 1), claim(note.name, 2)]);
    const begun = [one, other].filter((claimed) => claimed !== null);
    expect(begun).toHaveLength(1);
    await enqueue(getPool(), note, { word: "two" }, { key: "k" });
    expect(await claim(note.name, 2)).toBeNull();
    expect(await rows(note)).toMatchObject([
      { state: "active", tries: 1 },
      { state: "retry", tries: 1 },
    ]);
    for (const claimed of begun) expect(await complete(getPool(), claimed)).toBe(true);
    expect(await claim(note.name, 2, true)).toMatchObject({ data: { word: "two" }, attempt: 1 });
  });

  it("does not hold up others where another of its key waits", async () => {
    await enqueue(getPool(), note, { word: "one" }, { key: "k" });
    await claim(note.name, 1);
    await enqueue(getPool(), note, { word: "two" }, { key: "k" });
    await enqueue(getPool(), note, { word: "free" }, { key: "l" });
    expect(await claim(note.name, 2)).toMatchObject({ data: { word: "free" } });
  });

  it("cannot be ended by a worker that lost it", async () => {
    await enqueue(getPool(), note, { word: "one" });
    const lost = await claim(note.name, 1);
    if (lost === null) throw new Error("nothing was begun");
    await release(lost);
    const again = await claim(note.name, 1, true);
    expect(again).toMatchObject({ id: lost.id, attempt: 1 });
    expect(await complete(getPool(), lost)).toBe(false);
    expect(await rows(note)).toMatchObject([{ state: "active" }]);
  });

  it("ends with its effect, or not at all", async () => {
    const finishing = defineJob({
      ...note,
      run: async ({ word }, job) =>
        job.finish(async (db) => {
          await enqueue(db, every, {});
          if (word === "half") throw new Error("in the middle");
        }),
    });
    await enqueue(getPool(), finishing, { word: "half" });
    await runDueJobs([finishing]);
    expect(await rows(every)).toEqual([]);
    expect(await rows(note)).toMatchObject([
      { state: "retry", message: expect.stringMatching(/^Something unexpected.*: in the middle$/) as string },
    ]);
    await enqueue(getPool(), finishing, { word: "whole" });
    await runDueJobs([finishing]);
    expect(await rows(every)).toHaveLength(1);
  });

  it("is tried again after growing waits, and kept as failed with its error in words", async () => {
    await enqueue(getPool(), note, { word: "bad" });
    const waits: number[] = [];
    for (let attempt = 1; attempt < 3; attempt += 1) {
      await runDueJobs([note], true);
      const [row] = await rows(note);
      expect(row).toMatchObject({ state: "retry", message: "The receiver did not answer. Nothing was sent." });
      waits.push(row?.wait ?? 0);
    }
    // 5 s, then 10 s, each up to twice as long by chance (exponential back-off with jitter, common practice, no source).
    expect(waits[0]).toBeGreaterThanOrEqual(4);
    expect(waits[0]).toBeLessThanOrEqual(10);
    expect(waits[1]).toBeGreaterThanOrEqual(9);
    expect(waits[1]).toBeLessThanOrEqual(20);
    await runDueJobs([note], true);
    expect(await rows(note)).toMatchObject([
      { state: "failed", tries: 3, message: "The receiver did not answer. Nothing was sent." },
    ]);
    expect(ran).toEqual(["bad 1", "bad 2", "bad 3"]);
    expect(await runDueJobs([note], true)).toBe(0);
  });

  it("fails with words where its data is not what this version takes", async () => {
    await enqueue(getPool(), note, { word: "x" });
    await database.owner.query(`update jobs.job set data = '{"other": 1}'`);
    await runDueJobs([note]);
    expect(await rows(note)).toMatchObject([
      { state: "retry", message: expect.stringContaining("this one cannot read it") as string },
    ]);
    expect(ran).toEqual([]);
  });

  it("that never ends is broken off at its deadline", async () => {
    const endless = defineJob({ ...note, run: () => new Promise<void>(() => {}), deadlineS: 1 });
    await enqueue(getPool(), endless, { word: "x" });
    const claimed = await claim(endless.name, 1);
    if (claimed === null) throw new Error("nothing was begun");
    const why = new BrokenOff("it did not end within 1 s");
    const deadline = new AbortController();
    setTimeout(() => deadline.abort(why), 50);
    await runClaimed(endless, claimed, deadline.signal);
    expect(await rows(note)).toMatchObject([{ state: "retry", message: why.message }]);
  });
});

describe("what recurs", () => {
  it("is begun once in each stretch, whoever asks how often", async () => {
    await Promise.all(Array.from({ length: 6 }, () => enqueueRecurring(getPool(), [note, every])));
    expect(await runDueJobs([every])).toBe(1);
    await enqueueRecurring(getPool(), [every]);
    const made = await rows(every);
    // The test itself may run over the end of a minute, once.
    expect(made.length).toBeLessThanOrEqual(2);
    expect(await rows(note)).toEqual([]);
  });
});
