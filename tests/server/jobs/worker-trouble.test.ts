import { chmodSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import pg from "pg";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { z } from "zod";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { defineJob } from "@/lib/server/jobs/define-job";
import { enqueue, enqueueRecurring } from "@/lib/server/jobs/queue";
import { startWorker } from "@/lib/server/jobs/work";
import { mendQueue } from "@/lib/server/jobs/workers";
import { runDueJobs } from "@/lib/server/jobs/run-job";

// A server of its own, which this file kills; the worker runs in this process.
let folder = "";
let server: Awaited<ReturnType<typeof startEmbedded>>;
let owner: pg.Pool;
const ran: string[] = [];
let gate: Promise<void> = Promise.resolve();
const wordJob = defineJob({
  name: "test.word",
  title: "say a word",
  schema: z.strictObject({ word: z.string().optional() }),
  everyS: 600,
  deadlineS: 2,
  atOnce: 3,
  run: async ({ word = "again" }, { signal }) => {
    if (word === "endless")
      await new Promise((_, reject) => signal.addEventListener("abort", () => reject(signal.reason)));
    await gate;
    ran.push(word);
  },
});
const asked = defineJob({ ...wordJob, everyS: null });

beforeAll(async () => {
  folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-jobs-"));
  chmodSync(folder, 0o711);
  process.env.LOG_LEVEL = "error";
  server = await startEmbedded({ folder });
  await closeConnections();
  process.env.DATABASE_URL = server.appUrl("postgres");
  await prepareDatabase({ ownerUrl: server.url("postgres"), appUrl: server.appUrl("postgres") });
  owner = new pg.Pool({ connectionString: server.url("postgres"), max: 2 });
  owner.on("error", () => undefined);
  await owner.query(`select jobs.create_queue('test.word', '{"policy": "short"}')`);
});
afterAll(async () => {
  await owner.end();
  await closeConnections();
  await server.stop();
  rmSync(folder, { recursive: true, force: true });
});
beforeEach(async () => {
  ran.length = 0;
  gate = Promise.resolve();
  await owner.query("delete from jobs.job");
});

async function until(what: () => Promise<boolean> | boolean): Promise<void> {
  const end = performance.now() + 60_000;
  while (!(await what())) {
    if (performance.now() > end) throw new Error("it did not come to that in time");
    await sleep(20);
  }
}
const states = async (): Promise<readonly unknown[]> =>
  (await owner.query("select state::text as state, output ->> 'message' as words from jobs.job order by created_on"))
    .rows;

describe("a worker", () => {
  it("goes on after the database was killed and started again, and ends what it had begun once", async () => {
    const worker = await startWorker([asked]);
    let open = (): void => undefined;
    gate = new Promise((resolve) => (open = resolve));
    await enqueue(getPool(), asked, { word: "begun before" });
    await until(async () => (await owner.query("select from jobs.job where state = 'active'")).rowCount === 1);
    process.kill(
      Number(readFileSync(path.join(folder, "postgres", "postmaster.pid"), "utf8").split("\n")[0]),
      "SIGKILL",
    );
    open();
    await server.ended;
    server = await startEmbedded({ folder, port: server.port });
    await until(async () => {
      const rows = await states().catch(() => []);
      return rows.length === 1 && JSON.stringify(rows).includes("completed");
    });
    await until(() =>
      enqueue(getPool(), asked, { word: "asked for after" }).then(
        () => true,
        () => false,
      ),
    );
    await until(() => ran.length === 2);
    await worker.stop();
    expect(ran).toEqual(["begun before", "asked for after"]);
  });

  it("waits for a database that is not there yet, and goes on where others have forgotten it", async () => {
    const { port } = server;
    await server.stop();
    const beginning = startWorker([asked]);
    await sleep(1_000);
    server = await startEmbedded({ folder, port });
    const worker = await beginning;
    await until(async () => (await owner.query("delete from jobs.worker").catch(() => null))?.rowCount === 1);
    await until(async () => (await owner.query("select from jobs.worker")).rowCount === 1);
    await enqueue(getPool(), asked, { word: "after that" });
    await until(() => ran.length === 1);
    await worker.stop();
    expect((await owner.query("select from jobs.worker")).rowCount).toBe(0);
  });

  it("writes how a job went when the full disk has room again, and does it once", async () => {
    // A server that answers a write as one does whose disk is full: SQLSTATE 53100 (PostgreSQL manual, appendix A).
    await owner.query(`
      create function no_room() returns trigger language plpgsql as $$ begin
        raise exception 'No space left on device' using errcode = '53100';
      end $$;
      create trigger no_room before update on jobs.job for each row when (new.state = 'completed') execute function no_room()`);
    const worker = await startWorker([asked]);
    await enqueue(getPool(), asked, { word: "once" });
    await until(() => ran.length === 1);
    await sleep(1_500);
    expect(await states()).toMatchObject([{ state: "active" }]);
    await owner.query("drop trigger no_room on jobs.job; drop function no_room()");
    await until(async () => JSON.stringify(await states()).includes("completed"));
    await worker.stop();
    expect(ran).toEqual(["once"]);
  });

  it("breaks off what does not end by its deadline, and goes on with others meanwhile", async () => {
    const worker = await startWorker([asked]);
    await enqueue(getPool(), asked, { word: "endless" });
    await enqueue(getPool(), asked, { word: "beside it" });
    await until(() => ran.length === 1);
    await until(async () => JSON.stringify(await states()).includes("retry"));
    await worker.stop();
    expect((await states())[0]).toEqual({ state: "retry", words: "It did not end within 2 s and was broken off." });
  });
});

describe("a clock that was set back", () => {
  it("keeps nothing that recurs from being begun, nor a try from being made", async () => {
    await enqueueRecurring(getPool(), [wordJob]);
    expect(await runDueJobs([wordJob])).toBe(1);
    // As the rows are after the clock was set back by an hour.
    await owner.query("update jobs.job set singleton_on = singleton_on + interval '1 hour'");
    await owner.query(
      "insert into jobs.job (name, state, singleton_key, policy, start_after) values ('test.word', 'retry', 'x', 'short', now() + interval '3 days')",
    );
    await owner.query("update jobs.job set data = '{}'");
    await mendQueue();
    await enqueueRecurring(getPool(), [wordJob]);
    expect(await runDueJobs([wordJob])).toBe(2);
  });
});

describe("what recurs and fails", () => {
  it("leaves its last failure only, and none once it went well", async () => {
    const insert = (state: string, hours: number) =>
      owner.query(
        `insert into jobs.job (name, state, singleton_key, policy, singleton_on, completed_on)
         values ('test.word', $1::jobs.job_state, 'recurring', 'short', (now() at time zone 'utc') - make_interval(hours => $2), now())`,
        [state, hours],
      );
    for (const hours of [4, 3, 2]) await insert("failed", hours);
    await mendQueue();
    expect(await states()).toMatchObject([{ state: "failed" }]);
    await insert("completed", 1);
    await mendQueue();
    expect(await states()).toMatchObject([{ state: "completed" }]);
  });
});
