import type { ChildProcess } from "node:child_process";
import { once } from "node:events";
import { setTimeout as sleep } from "node:timers/promises";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { getPool } from "@/lib/server/db/client";
import { defineJob } from "@/lib/server/jobs/define-job";
import { enqueue } from "@/lib/server/jobs/queue";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { effectJob, hangingJob } from "../../helpers/test-worker";
import { endTestWorker, makeTestQueues, startTestWorker } from "../../helpers/worker-process";

let database: TestDatabase;
let workers: ChildProcess[] = [];
beforeAll(async () => {
  database = await createTestDatabase();
  await makeTestQueues(database.owner);
});
afterAll(() => database.drop());
beforeEach(() => database.owner.query("delete from jobs.job; delete from job_effect; delete from jobs.worker"));
afterEach(async () => {
  await Promise.all(workers.map((worker) => endTestWorker(worker, "SIGKILL")));
  workers = [];
});

const start = async (): Promise<ChildProcess> => {
  const worker = await startTestWorker(database.appUrl);
  workers.push(worker);
  return worker;
};
const count = async (text: string): Promise<number> =>
  (await database.owner.query<{ count: number }>(text)).rows[0]?.count ?? -1;
const effects = (): Promise<number> => count("select count(*)::int as count from job_effect");
const underWay = (): Promise<number> => count("select count(*)::int as count from jobs.job where state = 'active'");

async function until(what: () => Promise<boolean>, ms = 60_000): Promise<void> {
  const end = performance.now() + ms;
  while (!(await what())) {
    if (performance.now() > end) throw new Error("it did not come to that in time");
    await sleep(20);
  }
}

describe("workers", () => {
  it("do each job once, killed at random again and again, and lose none", async () => {
    const jobs = 200;
    const kills = 20;
    const random = createSeededGenerator(14);
    for (let number = 0; number < jobs; number += 1)
      await enqueue(getPool(), effectJob, { number, ms: 5 + Math.floor(60 * random.uniform()) });
    await Promise.all([start(), start()]);
    for (let kill = 0; kill < kills; kill += 1) {
      await sleep(400 * random.uniform());
      const victim = workers.splice(kill % 2, 1)[0];
      if (victim === undefined) throw new Error("there are two workers");
      await endTestWorker(victim, "SIGKILL");
      await start();
    }
    await until(async () => (await effects()) === jobs);
    // The primary key would have refused a second row; that each job ended once shows in its state.
    expect(await count("select count(*)::int as count from jobs.job where state = 'completed'")).toBe(jobs);
    expect(await count("select max(retry_count)::int as count from jobs.job")).toBe(0);
  });

  it("go on with what a killed one had begun within seconds, without counting a try", async () => {
    const first = await start();
    await enqueue(getPool(), effectJob, { number: 1, ms: 1_500 });
    await until(async () => (await underWay()) === 1);
    await endTestWorker(first, "SIGKILL");
    const from = performance.now();
    await start();
    await until(async () => (await effects()) === 1);
    expect(performance.now() - from).toBeLessThan(30_000);
    expect(await count("select max(retry_count)::int as count from jobs.job")).toBe(0);
  });

  it("give back what they had begun when they are ended in order", async () => {
    const first = await start();
    await enqueue(getPool(), effectJob, { number: 1, ms: 60_000 });
    await until(async () => (await underWay()) === 1);
    await endTestWorker(first, "SIGTERM");
    expect(await underWay()).toBe(0);
    expect(await count("select count(*)::int as count from jobs.job where state = 'retry'")).toBe(1);
    expect(await count("select count(*)::int as count from jobs.worker")).toBe(0);
  });

  it("begin within 2 s of the event at the 95th percentile", async () => {
    await start();
    for (let number = 0; number < 40; number += 1) {
      await enqueue(getPool(), effectJob, { number, ms: 0 });
      await sleep(10);
    }
    await until(async () => (await effects()) === 40);
    const { rows } = await database.owner.query<{ ms: number }>(`
      select (extract(epoch from e.at - j.created_on) * 1000)::float8 as ms
      from job_effect e join jobs.job j on j.id = e.job order by 1`);
    expect(rows[37]?.ms).toBeLessThan(2_000);
  });

  it("leave alone what a newer version calls for", async () => {
    await database.owner.query(`select jobs.create_queue('test.newer', '{"policy": "short"}')`);
    await enqueue(getPool(), defineJob({ ...effectJob, name: "test.newer" }), { number: 1, ms: 0 });
    await start();
    await enqueue(getPool(), effectJob, { number: 2, ms: 0 });
    await until(async () => (await effects()) === 1);
    expect((await database.owner.query("select name, state from jobs.job where state <> 'completed'")).rows).toEqual([
      { name: "test.newer", state: "created" },
    ]);
  });

  it("end where a job keeps their only thread, and keep it as failed after ten of them", async () => {
    await enqueue(getPool(), hangingJob, {});
    const hung = await start();
    expect(await once(hung, "exit")).toEqual([null, "SIGKILL"]);
    expect((await database.owner.query("select state, deaths from jobs.job")).rows).toEqual([
      { state: "active", deaths: 0 },
    ]);
    await database.owner.query("update jobs.job set deaths = 9");
    await start();
    await until(async () => (await count("select count(*)::int as count from jobs.job where state = 'failed'")) === 1);
    expect((await database.owner.query("select output from jobs.job")).rows).toEqual([
      { output: { message: "10 workers ended while they did it. It is not begun by itself any more." } },
    ]);
  });
});
