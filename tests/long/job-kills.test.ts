import type { ChildProcess } from "node:child_process";
import { setTimeout as sleep } from "node:timers/promises";
import { afterAll, beforeAll, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { getPool } from "@/lib/server/db/client";
import { enqueue } from "@/lib/server/jobs/queue";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { effectJob } from "@/tests/helpers/test-worker";
import { endTestWorker, makeTestQueues, startTestWorker } from "@/tests/helpers/worker-process";

const JOBS = Number(process.env.JOBS ?? 10_000);
const KILLS = Number(process.env.KILLS ?? 200);

let database: TestDatabase;
const workers: ChildProcess[] = [];
beforeAll(async () => {
  database = await createTestDatabase();
  await makeTestQueues(database.owner);
});
afterAll(async () => {
  await Promise.all(workers.map((worker) => endTestWorker(worker, "SIGKILL")));
  await database.drop();
});

const count = async (text: string): Promise<number> =>
  (await database.owner.query<{ count: number }>(text)).rows[0]?.count ?? -1;

it(`${JOBS} jobs of which every third try fails, and ${KILLS} killed workers: each is done once, none is lost`, async () => {
  const random = createSeededGenerator(200);
  for (let number = 0; number < JOBS; number += 1)
    await enqueue(getPool(), effectJob, {
      number,
      ms: Math.floor(20 * random.uniform()),
      fails: number % 3 === 0 ? 1 : 0,
    });
  const from = performance.now();
  for (let one = 0; one < 2; one += 1) workers.push(await startTestWorker(database.appUrl));
  for (let kill = 0; kill < KILLS; kill += 1) {
    await sleep(500 * random.uniform());
    const victim = workers.splice(kill % 2, 1)[0];
    if (victim !== undefined) await endTestWorker(victim, "SIGKILL");
    workers.push(await startTestWorker(database.appUrl));
  }
  while ((await count("select count(*)::int as count from job_effect")) < JOBS) await sleep(200);
  await sleep(2_000);
  const deaths = await count("select sum(deaths)::int as count from jobs.job");
  console.info(
    `jobs: ${JOBS} done once each in ${Math.round((performance.now() - from) / 1000)} s, ${KILLS} workers killed, ` +
      `${deaths} jobs begun again by another worker`,
  );
  expect(await count("select count(*)::int as count from jobs.job where state = 'completed'")).toBe(JOBS);
  expect(await count("select count(distinct job)::int as count from job_effect")).toBe(JOBS);
  expect(await count("select count(*)::int as count from jobs.job where retry_count > 1")).toBe(0);
});
