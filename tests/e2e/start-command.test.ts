import { spawnSync } from "node:child_process";
import { chmodSync, cpSync, existsSync, mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { afterAll, afterEach, beforeAll, describe, expect, test } from "vitest";
import { findUserOf } from "@/lib/cli/data-folder";
import { findRunningServer } from "@/lib/server/db/embedded";
import { isRunning, processesIn, waitForEnd } from "@/lib/server/db/process-state";
import { quietTime } from "@/tests/helpers/machine-time";
import { freePort, runStart, type RunningStart } from "@/tests/helpers/running-start";

const READY = "Ctrl-C stops it.";
const base = mkdtempSync(path.join(os.tmpdir(), "shellgate second start "));
chmodSync(base, 0o755);
const data = path.join(base, "plant of the test");
let port = 0;
let running: RunningStart | null = null;

beforeAll(async () => {
  port = await freePort();
});
afterEach(async () => {
  await running?.stop();
  running = null;
});
afterAll(() => rmSync(base, { recursive: true, force: true }));

async function start(args: readonly string[] = ["--empty"]): Promise<RunningStart> {
  running = runStart({ args: ["--data", data, ...args], env: { PORT: String(port) } });
  await running.waitFor(READY);
  return running;
}

const answers = async (): Promise<number> => (await fetch(`http://localhost:${port}/sign-in`)).status;

function serverPid(): number {
  const server = findRunningServer(data);
  if (server === null) throw new Error("no database server runs");
  return server.pid;
}

/** Children of a process that still run (Linux). */
function childrenOf(pid: number): readonly number[] {
  const result = spawnSync("ps", ["-o", "pid=", "--ppid", String(pid)], { encoding: "utf8" });
  return result.stdout
    .split("\n")
    .map(Number)
    .filter((child) => child > 0 && isRunning(child));
}

function isWorker(pid: number): boolean {
  return spawnSync("ps", ["-o", "args=", "-p", String(pid)], { encoding: "utf8" }).stdout.includes("lib/cli/worker.ts");
}

describe("npm start", () => {
  test("stops everything it started on SIGTERM and leaves the folder free", async () => {
    const first = await start();
    expect(await answers()).toBe(200);
    expect(first.output()).toMatch(/Set it up within 24 hours at http:\/\/localhost:\d+\/new-plant\/\S{40,}/);
    const children = childrenOf(first.process.pid ?? 0);
    expect(children.length).toBeGreaterThanOrEqual(2);
    expect(findUserOf(data)?.address).toBe(`http://localhost:${port}`);
    expect(await first.stop()).toBe(0);
    for (const pid of children) expect(await waitForEnd(pid, 3_000)).toBe(true);
    expect(processesIn(path.join(data, "postgres"))).toEqual([]);
    expect(existsSync(path.join(data, "in-use.json"))).toBe(false);
    await expect(answers()).rejects.toThrow();
  });

  test("builds, migrates and loads nothing the second time, and answers within 10 seconds", async () => {
    const { value: second, ms } = await quietTime(async () => {
      const running = await start([]);
      expect(await answers()).toBe(200);
      return running;
    });
    expect(ms).toBeLessThan(10_000);
    expect(second.output()).toContain("Application: built before");
    expect(second.output()).toContain("Tables: up to date");
    expect(second.output()).toContain("Plant: empty");
  });

  test("refuses a second instance on the folder and leaves the first one alone", async () => {
    const first = await start();
    const other = runStart({ args: ["--data", data], env: { PORT: String(await freePort()) } });
    expect(await other.ended).toBe(1);
    expect(other.output()).toContain(`in use by another Shellgate (npm start, process ${first.process.pid}`);
    expect(await answers()).toBe(200);
  });

  test("listens on the loopback address only", async () => {
    await start();
    const outside = Object.values(os.networkInterfaces())
      .flatMap((entries) => entries ?? [])
      .filter((entry) => !entry.internal && entry.family === "IPv4");
    for (const { address } of outside) await expect(fetch(`http://${address}:${port}/`)).rejects.toThrow();
    expect(await answers()).toBe(200);
  });

  test("starts a database again that was killed, and the application finds it", async () => {
    const first = await start();
    const killed = serverPid();
    process.kill(killed, "SIGKILL");
    await first.waitFor("The database ended by itself and is started again", 10_000);
    await expect.poll(() => findRunningServer(data)?.pid ?? killed, { timeout: 20_000 }).not.toBe(killed);
    const server = findRunningServer(data);
    const client = new pg.Client({ connectionString: server?.url() });
    await client.connect();
    expect((await client.query("select count(*)::int as plants from plant")).rows).toEqual([{ plants: 0 }]);
    await client.end();
    expect(await answers()).toBe(200);
  });

  test("starts a worker again that was killed, and health tells of one that lives", async () => {
    const first = await start();
    const jobs = async (): Promise<unknown> =>
      ((await (await fetch(`http://localhost:${port}/api/v1/health`)).json()) as { jobs: unknown }).jobs;
    const worker = (): number | undefined => childrenOf(first.process.pid ?? 0).find(isWorker);
    expect(await jobs()).toBe("ok");
    const killed = worker();
    if (killed === undefined) throw new Error("no worker runs");
    process.kill(killed, "SIGKILL");
    await first.waitFor("The worker ended by itself and is started again");
    await expect.poll(() => worker() ?? killed, { timeout: 20_000 }).not.toBe(killed);
    await expect.poll(jobs, { timeout: 20_000 }).toBe("ok");
    expect(await answers()).toBe(200);
  });

  test("leaves nothing running when it is killed without warning, and starts again after it", async () => {
    const first = await start();
    const database = serverPid();
    const children = childrenOf(first.process.pid ?? 0);
    first.process.kill("SIGKILL");
    await first.ended;
    expect(await waitForEnd(database, 10_000)).toBe(true);
    for (const pid of children) expect(await waitForEnd(pid, 10_000)).toBe(true);
    await start();
    expect(await answers()).toBe(200);
  });

  test("stops in order when told to in the middle of its start", async () => {
    const first = runStart({ args: ["--data", data], env: { PORT: String(port) } });
    await first.waitFor("Database: running");
    expect(await first.stop()).toBe(0);
    expect(processesIn(path.join(data, "postgres"))).toEqual([]);
    expect(existsSync(path.join(data, "in-use.json"))).toBe(false);
  });
});

test("stops at once while the demo plant is loading, and remembers that it is unfinished", async () => {
  const folder = path.join(base, "half a demo");
  const first = runStart({ args: ["--data", folder], env: { PORT: String(port) } });
  await first.waitFor("loading the demo plant");
  const stopped = await quietTime(() => first.stop());
  expect(stopped.value).toBe(0);
  expect(stopped.ms).toBeLessThan(15_000);
  expect(processesIn(path.join(folder, "postgres"))).toEqual([]);
  expect(existsSync(path.join(folder, "demo-unfinished"))).toBe(true);
});

test("starts as an ordinary user from a path with a space", async () => {
  // Root gives a copy of the project to nobody; an ordinary user is one already.
  const asRoot = process.getuid?.() === 0;
  const root = path.join(base, "project of nobody");
  if (asRoot) {
    const project = path.resolve(import.meta.dirname, "../..");
    const left = new Set(
      [".git", ".data", "coverage", ".next/cache", ".next/dev"].map((name) => path.join(project, name)),
    );
    cpSync(project, root, {
      recursive: true,
      verbatimSymlinks: true,
      preserveTimestamps: true,
      filter: (from) => !left.has(from),
    });
    expect(spawnSync("chown", ["-R", "65534:65534", root]).status).toBe(0);
  }
  const start = runStart({
    args: ["--empty"],
    env: { PORT: String(port), HOME: root, ...(asRoot ? {} : { SHELLGATE_DATA: data }) },
    ...(asRoot ? { root, uid: 65534, gid: 65534 } : {}),
  });
  running = start;
  await start.waitFor(READY);
  expect(await answers()).toBe(200);
  expect(await start.stop()).toBe(0);
});
