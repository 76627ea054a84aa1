import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import path from "node:path";
import type pg from "pg";
import { bundledCommand } from "@/lib/cli/bundled.mjs";
import { ROOT } from "@/tests/rules/source-files";
import { effectJob, hangingJob } from "./test-worker";

/** Makes what the test jobs need in a database; called with the owner's connections. */
export async function makeTestQueues(owner: pg.Pool): Promise<void> {
  for (const { name } of [effectJob, hangingJob])
    await owner.query(`select jobs.create_queue('${name}', '{"policy": "short"}')`);
  await owner.query("create table job_effect (number int primary key, job uuid not null, at timestamptz not null)");
  await owner.query("grant select, insert on job_effect to shellgate_app");
}

/** A worker process of the test jobs that has said that it is ready. */
export async function startTestWorker(appUrl: string): Promise<ChildProcess> {
  // As one file it starts as fast as the one of npm start does.
  const bundle = await bundledCommand(path.join(ROOT, "tests/helpers/test-worker.ts"));
  if (bundle === null) throw new Error("the worker of the tests cannot be bundled");
  const child = spawn(process.execPath, [bundle, "run"], {
    env: { ...process.env, DATABASE_URL: appUrl, LOG_LEVEL: "error" },
    stdio: ["ignore", "pipe", "inherit"],
  });
  await Promise.race([
    once(child.stdout ?? child, "data"),
    once(child, "exit").then(([code, signal]) => {
      throw new Error(`the worker ended with ${String(signal ?? code)}`);
    }),
  ]);
  return child;
}

export async function endTestWorker(child: ChildProcess, signal: NodeJS.Signals): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  child.kill(signal);
  await once(child, "exit");
}
