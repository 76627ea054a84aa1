import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { getPool } from "@/lib/server/db/client";
import { readHealth } from "@/lib/server/doors/health";
import { defineJob } from "@/lib/server/jobs/define-job";
import { enqueue } from "@/lib/server/jobs/queue";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { ALL_JOBS } from "@/lib/server/worker/all-jobs";
import { anchorJob } from "@/lib/server/worker/anchor-job";
import { giveUpJob, tryJobAgain, tryKindAgain } from "@/lib/server/worker/job-commands";
import { listJobs } from "@/lib/server/worker/job-list";
import { tidyJob } from "@/lib/server/worker/tidy-job";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { livingWorker, type TestWorker } from "../../helpers/living-worker";

let database: TestDatabase;
let plant: TestPlant;
let other: TestPlant;
let worker: TestWorker;
let isDown = true;
const tell = defineJob({
  name: "test.tell",
  title: "tell somebody",
  schema: z.strictObject({ plantId: z.uuid(), whom: z.string() }),
  tries: 1,
  run: async () => {
    if (isDown) throw new AppError("unavailable", "The mail server did not answer.");
  },
});

beforeAll(async () => {
  database = await createTestDatabase();
  await database.owner.query(`select jobs.create_queue('test.tell', '{"policy": "short"}')`);
  plant = await createTestPlant({ frames: 1 });
  other = await createTestPlant({ frames: 1 });
  worker = await livingWorker();
});
afterAll(async () => {
  await worker.end();
  await database.drop();
});
beforeEach(async () => {
  isDown = true;
  await database.owner.query("delete from jobs.job");
});

async function failed(of: TestPlant, ...names: readonly string[]): Promise<readonly string[]> {
  const ids: string[] = [];
  for (const whom of names) ids.push((await enqueue(getPool(), tell, { plantId: of.plantId, whom })) ?? "");
  await runDueJobs([tell]);
  return ids;
}
const kindOf = async (of: TestPlant) =>
  (await listJobs(of.system)).kinds.find(({ name }) => name === tell.name) ?? { counts: {}, items: [] };
const entries = async (): Promise<readonly unknown[]> =>
  (
    await getPool().query(
      "select action, actor, payload ->> 'reason' as reason from journal_entry where plant_id = $1 and action like 'job.%' order by sequence",
      [plant.plantId],
    )
  ).rows;

describe("the page of jobs", () => {
  it("has a queue for each kind of job that the worker does", async () => {
    const { rows } = await database.pool.query<{ name: string }>("select name from jobs.queue");
    const queues = rows.map(({ name }) => name);
    expect(ALL_JOBS.map(({ name }) => name).filter((name) => !queues.includes(name))).toEqual([]);
    expect(new Set(ALL_JOBS.map(({ name }) => name)).size).toBe(ALL_JOBS.length);
  });

  it("tells what failed in words, with its age and tries, and nothing of another plant", async () => {
    const [id] = await failed(plant, "Ada");
    expect(await kindOf(plant)).toMatchObject({
      title: tell.name,
      counts: { failed: 1, waiting: 0 },
      items: [{ id, state: "failed", words: "The mail server did not answer.", tried: 1, tries: 1 }],
    });
    expect(await kindOf(other)).toMatchObject({ counts: { failed: 0 }, items: [] });
    const job = { name: tell.name, id: id ?? "" };
    await expect(tryJobAgain(other.system, job)).rejects.toMatchObject({ code: "conflict" });
    await expect(giveUpJob(other.system, { ...job, reason: "not ours" })).rejects.toMatchObject({ code: "conflict" });
    await expect(tryKindAgain(other.system, { name: tell.name })).rejects.toMatchObject({ code: "conflict" });
  });

  it("tries one again, or all of a kind, and notes who asked", async () => {
    const ids = await failed(plant, "Ada", "Ben", "Cleo");
    isDown = false;
    const administrator = await plant.as("administrator");
    await tryJobAgain(administrator, { name: tell.name, id: ids[1] ?? "" });
    expect(await runDueJobs([tell])).toBe(1);
    expect(await kindOf(plant)).toMatchObject({ counts: { failed: 2, done: 1 } });
    expect(await tryKindAgain(administrator, { name: tell.name })).toBe(2);
    expect(await runDueJobs([tell])).toBe(2);
    expect(await kindOf(plant)).toMatchObject({ counts: { failed: 0, done: 3 }, items: [] });
    await expect(tryKindAgain(administrator, { name: tell.name })).rejects.toMatchObject({ code: "conflict" });
    const actor = `person:${administrator.personId}`;
    expect(await entries()).toEqual(Array(2).fill({ action: "job.tried-again", actor, reason: null }));
  });

  it("fails again where the cause stands, with one try more", async () => {
    const [id] = await failed(plant, "Ada");
    await tryJobAgain(plant.system, { name: tell.name, id: id ?? "" });
    await runDueJobs([tell]);
    expect(await kindOf(plant)).toMatchObject({ counts: { failed: 1 }, items: [{ tried: 2, tries: 2 }] });
  });

  it("gives one up with a reason that stays in the journal", async () => {
    const [id] = await failed(plant, "Ada");
    const administrator = await plant.as("administrator");
    const job = { name: tell.name, id: id ?? "", reason: "she was told on the phone" };
    await giveUpJob(administrator, job);
    expect(await kindOf(plant)).toMatchObject({ counts: { failed: 0 }, items: [] });
    expect((await entries()).at(-1)).toMatchObject({ action: "job.given-up", reason: "she was told on the phone" });
    expect(await runDueJobs([tell], true)).toBe(0);
    await expect(giveUpJob(administrator, job)).rejects.toMatchObject({ code: "conflict" });
  });

  it("is refused to who may not, and says so", async () => {
    const inspector = await plant.as("inspector");
    await expect(listJobs(inspector)).rejects.toMatchObject({ code: "forbidden" });
    const engineer = await plant.as("engineer");
    expect((await listJobs(engineer)).workers).toHaveLength(1);
    const [id] = await failed(plant, "Ada");
    await expect(tryJobAgain(engineer, { name: tell.name, id: id ?? "" })).rejects.toMatchObject({ code: "forbidden" });
  });
});

describe("health", () => {
  it("is well while a worker lives and nothing failed for long", async () => {
    await failed(plant, "Ada");
    expect(await readHealth()).toMatchObject({ status: "ok", jobs: "ok" });
  });

  it("says what failed an hour ago and waits for a person", async () => {
    await failed(plant, "Ada");
    await database.owner.query("update jobs.job set completed_on = now() - interval '61 minutes'");
    expect(await readHealth()).toMatchObject({ status: "degraded", jobs: "failed" });
  });

  it("says what is due and not begun for ten minutes", async () => {
    await enqueue(getPool(), tell, { plantId: plant.plantId, whom: "Ada" });
    await database.owner.query("update jobs.job set start_after = now() - interval '11 minutes'");
    expect(await readHealth()).toMatchObject({ status: "degraded", jobs: "late" });
  });

  it("says that no worker lives, or that one holds on and says nothing", async () => {
    await database.owner.query("update jobs.worker set heard_at = now() - interval '61 seconds'");
    expect(await readHealth()).toMatchObject({ status: "degraded", jobs: "silent" });
    await worker.end();
    expect(await readHealth()).toMatchObject({ status: "degraded", jobs: "silent" });
    worker = await livingWorker();
    expect(await readHealth()).toMatchObject({ status: "ok", jobs: "ok" });
  });
});

describe("what recurs by itself", () => {
  it("anchors the journal, and removes what nobody can use", async () => {
    await enqueue(getPool(), anchorJob, {});
    await enqueue(getPool(), tidyJob, {});
    await database.owner.query(`
      insert into auth_rate_limit (id, key, count, last_request) values ('old', 'sign-in of nobody', 3, 0)`);
    await enqueue(getPool(), tell, { plantId: plant.plantId, whom: "old" });
    isDown = false;
    await runDueJobs([tell]);
    await database.owner.query(
      "update jobs.job set completed_on = now() - interval '3 days' where state = 'completed'",
    );
    expect(await runDueJobs([anchorJob, tidyJob])).toBe(2);
    const { rows } = await getPool().query<{ anchors: number; brakes: number; old: number }>(`
      select (select count(*)::int from journal_entry where action = 'journal.anchored') as anchors,
        (select count(*)::int from auth_rate_limit) as brakes, (select count(*)::int from jobs.job where name = 'test.tell') as old`);
    expect(rows).toEqual([{ anchors: 2, brakes: 0, old: 0 }]);
  });
});
