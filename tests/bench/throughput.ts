import { randomBytes } from "node:crypto";
import http from "node:http";
import { mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { spawn, type ChildProcess } from "node:child_process";
import pg from "pg";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import type { BenchLine } from "./run";

const ROOT = path.resolve(import.meta.dirname, "../..");
const CONNECTIONS = 16;
const SINGLE = 3000;
const BATCHES = 60;
const BATCH_SIZE = 100;
/** Requests and batches before the clock runs, until the code is compiled as it will be. */
const WARM = 400;
const WARM_BATCHES = 20;
/** A busy line finishes a frame every few seconds at most. */
const SECONDS_APART = 5;

/** Full plans of 44 readings with the spread of a steady process, so that streams have limits and are tested. */
export function makeInspections(plant: TestPlant, count: number): RecordInspection[] {
  const random = createSeededGenerator(41);
  const first = Date.now() - count * SECONDS_APART * 1000;
  return Array.from({ length: count }, (_, index) => {
    const inspection = plant.inspection(`T-${String(index + 1).padStart(4, "0")}`);
    const seat = 0.002 * random.normal();
    const readings = inspection.readings.map((value, at) => {
      if (value === null) return null;
      const inMm = plant.names[at]?.kind === "bore" || plant.names[at]?.kind === "width";
      return inMm ? value + seat + 0.001 * random.normal() : value + 2 * random.normal();
    });
    return { ...inspection, readings, deviceTime: new Date(first + index * SECONDS_APART * 1000).toISOString() };
  });
}

/** The text is made before the clock runs: what is measured is the server, not its clients. */
type Sent = { readonly path: string; readonly text?: string };

const INSPECTIONS = "/api/v1/inspections";
export const posted = (body: unknown): Sent => ({ path: INSPECTIONS, text: JSON.stringify(body) });

export function request(agent: http.Agent, port: number, token: string, { path: to, text }: Sent): Promise<number> {
  return new Promise((resolve, reject) => {
    const call = http.request(
      {
        agent,
        port,
        host: "127.0.0.1",
        path: to,
        method: text === undefined ? "GET" : "POST",
        headers: {
          authorization: `Bearer ${token}`,
          ...(text === undefined
            ? {}
            : { "content-type": "application/json", "content-length": Buffer.byteLength(text) }),
        },
      },
      (response) => {
        response.resume();
        response.on("end", () => resolve(response.statusCode ?? 0));
      },
    );
    call.on("error", reject);
    call.end(text);
  });
}

/** Requests a second over some connections; every answer has to be 200. */
async function rate(port: number, token: string, sent: readonly Sent[]): Promise<number> {
  const agent = new http.Agent({ keepAlive: true, maxSockets: CONNECTIONS });
  const waiting = [...sent];
  const started = performance.now();
  await Promise.all(
    Array.from({ length: CONNECTIONS }, async () => {
      for (let one = waiting.shift(); one !== undefined; one = waiting.shift()) {
        const status = await request(agent, port, token, one);
        if (status !== 200) throw new Error(`bench: ${one.path} answered ${status}`);
      }
    }),
  );
  const seconds = (performance.now() - started) / 1000;
  agent.destroy();
  return sent.length / seconds;
}

export async function startApp(env: NodeJS.ProcessEnv, port: number): Promise<ChildProcess> {
  const next = path.join(ROOT, "node_modules/next/dist/bin/next");
  const child = spawn(process.execPath, [next, "start", "-p", String(port), "-H", "127.0.0.1"], {
    cwd: ROOT,
    env,
    stdio: process.env.BENCH_LOG === undefined ? "ignore" : "inherit",
  });
  for (let tries = 0; tries < 200; tries += 1) {
    try {
      await request(new http.Agent(), port, "", { path: "/api/v1/alive" });
      return child;
    } catch {
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
  }
  throw new Error("bench: the built application did not start; run npm run build first");
}

/** As many callers at once as there are connections over HTTP. */
async function recordChunks(
  plant: TestPlant,
  chunks: number,
  take: (count: number) => RecordInspection[],
): Promise<void> {
  const waiting = Array.from({ length: chunks }, () => take(BATCH_SIZE));
  const caller = async (): Promise<void> => {
    for (let chunk = waiting.shift(); chunk !== undefined; chunk = waiting.shift()) {
      const outcomes = await recordInspections(plant.system, chunk);
      if (outcomes.some((one) => one.status !== "recorded")) throw new Error("bench: an inspection was refused");
    }
  };
  await Promise.all(Array.from({ length: CONNECTIONS }, caller));
}

/**
 * Rows as they were recorded, in one COPY as fast as the server takes them: into a bare table without keys, indexes and
 * checks, which no recording could go past.
 */
async function copyRate(plant: TestPlant, pool: pg.Pool): Promise<number> {
  await pool.query("create unlogged table bench_rows (like inspection)");
  await pool.query("alter table bench_rows set logged");
  const file = path.join(os.tmpdir(), `shellgate-bench-${process.pid}.copy`);
  const { rowCount } = await pool.query(
    `copy (select * from inspection where plant_id = '${plant.plantId}') to '${file}'`,
  );
  const started = performance.now();
  await pool.query(`copy bench_rows from '${file}'`);
  const seconds = (performance.now() - started) / 1000;
  await pool.query("drop table bench_rows");
  rmSync(file, { force: true });
  return (rowCount ?? 0) / seconds;
}

/**
 * Inspections a second: through HTTP one by one and in batches of 100, and through the command, against a route that does
 * nothing and the same rows by COPY, all in one run on an embedded server with full durability.
 */
export async function bench(): Promise<BenchLine[]> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-bench-"));
  const server = await startEmbedded({ folder });
  const addresses = { ownerUrl: server.url(), appUrl: server.appUrl() };
  const secret = randomBytes(32).toString("hex");
  Object.assign(process.env, { DATABASE_URL: addresses.appUrl, AUTH_SECRET: secret, LOG_LEVEL: "error" });
  // Statistics, and tables beside the plant's, are the owner's.
  const owner = new pg.Pool({ connectionString: addresses.ownerUrl, max: 1 });
  // The server stops before the last connection has closed, and must not end the bench before its figures.
  owner.on("error", () => undefined);
  let app: ChildProcess | null = null;
  try {
    await prepareDatabase(addresses);
    const total = WARM + SINGLE + 2 * (WARM_BATCHES + BATCHES) * BATCH_SIZE;
    const plant = await createTestPlant({ frames: total });
    // As the server does by itself within a minute of so many new rows.
    await owner.query("analyze");
    const { token } = await createToken(await plant.as("administrator"), { name: "bench", scopes: ["readings:write"] });
    const inspections = makeInspections(plant, total);
    const take = (count: number): RecordInspection[] => inspections.splice(0, count);

    await recordChunks(plant, WARM_BATCHES, take);
    const started = performance.now();
    await recordChunks(plant, BATCHES, take);
    const command = (BATCHES * BATCH_SIZE * 1000) / (performance.now() - started);
    const copyBefore = await copyRate(plant, owner);

    const port = 20_000 + Math.floor(Math.random() * 20_000);
    app = await startApp(
      { ...process.env, NODE_ENV: "production", SHELLGATE_ORIGIN: `http://localhost:${port}` },
      port,
    );
    const empties = Array.from({ length: SINGLE }, () => ({ path: "/api/v1/alive" }));
    await rate(port, token, empties.slice(0, 500));
    await rate(port, token, take(WARM).map(posted));
    const empty = await rate(port, token, empties);
    const single = await rate(port, token, take(SINGLE).map(posted));
    const batches = Array.from({ length: BATCHES }, () => posted({ inspections: take(BATCH_SIZE) }));
    await rate(port, token, batches.splice(0, WARM_BATCHES));
    const batched = (await rate(port, token, batches)) * BATCH_SIZE;
    // Other work on the machine comes and goes: the floor is taken on both sides of what is measured.
    const copy = (copyBefore + (await copyRate(plant, owner))) / 2;
    const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });
    return [
      told("empty route handler, requests/s", empty),
      told("one by one over HTTP, inspections/s", single),
      told("batches of 100 over HTTP, inspections/s", batched),
      told("batches of 100 through the command, inspections/s", command),
      told("COPY of the same rows, inspections/s", copy),
      { name: "empty handler / one by one", value: empty / single, goal: 3 },
      { name: "COPY / batches of 100 over HTTP", value: copy / batched, goal: 10 },
      { name: "COPY / batches of 100 through the command", value: copy / command, goal: 10 },
    ];
  } finally {
    app?.kill();
    await closeConnections();
    await owner.end();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
