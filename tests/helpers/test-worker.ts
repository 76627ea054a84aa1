import { setTimeout as sleep } from "node:timers/promises";
import { z } from "zod";
import { closeConnections } from "@/lib/server/db/client";
import { defineJob } from "@/lib/server/jobs/define-job";
import { watchThread } from "@/lib/server/jobs/watch-thread";
import { startWorker } from "@/lib/server/jobs/work";

/** Writes one row into job_effect, with the end of the job, after a while in which the worker may be killed. */
export const effectJob = defineJob({
  name: "test.effect",
  title: "write a row",
  schema: z.strictObject({ number: z.int(), ms: z.number(), fails: z.int().optional() }),
  atOnce: 4,
  firstWaitS: 1,
  run: async ({ number, ms, fails = 0 }, job) => {
    await sleep(ms);
    if (job.attempt <= fails) throw new Error("this try fails");
    await job.finish(async (db) => {
      await db.query("insert into job_effect (number, job, at) values ($1, $2, clock_timestamp())", [number, job.id]);
    });
  },
});

/** Keeps the worker's only thread for ever. */
export const hangingJob = defineJob({
  name: "test.hanging",
  title: "hang",
  schema: z.strictObject({}),
  run: async () => {
    for (;;);
  },
});

// A worker that can be killed: node lib/cli/run.mjs tests/helpers/test-worker.ts run
if (process.argv[2] === "run") {
  watchThread(5_000);
  const worker = await startWorker([effectJob, hangingJob]);
  process.stdout.write("ready\n");
  process.on(
    "SIGTERM",
    () =>
      void worker
        .stop()
        .then(closeConnections)
        .then(() => process.exit(0)),
  );
}
