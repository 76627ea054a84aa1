import { randomBytes } from "node:crypto";
import http from "node:http";
import { mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import { spawn, type ChildProcess } from "node:child_process";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { migrate } from "@/lib/server/db/migrate";
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
const COPIED = 20_000;
/** A busy line finishes a frame every few seconds at most. */
const SECONDS_APART = 5;

/** Full plans of 44 readings with the spread of a steady process, so that streams have limits and are tested. */
function makeInspections(plant: TestPlant, count: number): RecordInspection[] {
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

type Sent = { readonly path: string; readonly body?: unknown };

function request(agent: http.Agent, port: number, token: string, { path: to, body }: Sent): Promise<number> {
  return new Promise((resolve, reject) => {
    const text = body === undefined ? "" : JSON.stringify(body);
    const call = http.request(
      {
        agent,
        port,
        host: "127.0.0.1",
        path: to,
        method: body === undefined ? "GET" : "POST",
        headers: {
          authorization: `Bearer ${token}`,
          ...(body === undefined
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
      for (let one = waiting.pop(); one !== undefined; one = waiting.pop()) {
        const status = await request(agent, port, token, one);
        if (status !== 200) throw new Error(`bench: ${one.path} answered ${status}`);
      }
    }),
  );
  const seconds = (performance.now() - started) / 1000;
  agent.destroy();
  return sent.length / seconds;
}

async function startApp(env: NodeJS.ProcessEnv, port: number): Promise<ChildProcess> {
  const next = path.join(ROOT, "node_modules/next/dist/bin/next");
  const child = spawn(process.execPath, [next, "start", "-p", String(port), "-H", "127.0.0.1"], {
    cwd: ROOT,
    env,
    stdio: "ignore",
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

/** The same rows by the bare driver, in one COPY as fast as the server takes them. */
async function copyRate(plant: TestPlant): Promise<number> {
  const pool = getPool();
  await pool.query("create unlogged table bench_rows (like inspection)");
  await pool.query("alter table bench_rows set logged");
  const { rows } = await pool.query<{ line: string }>(sql`
    select i::text as line from inspection i where i.plant_id = ${plant.plantId} limit 1`);
  const { rows: names } = await pool.query<{ n: string }>(
    "select string_agg(quote_ident(column_name), ',' order by ordinal_position) as n from information_schema.columns where table_name = 'inspection'",
  );
  if (rows.length === 0 || !names[0]?.n) throw new Error("bench: no row to copy");
  await pool.query(sql`create table bench_source as select i.* from inspection i, generate_series(1, ${COPIED}) where i.id = (
    select id from inspection where plant_id = ${plant.plantId} limit 1)`);
  const file = path.join(os.tmpdir(), `shellgate-bench-${process.pid}.copy`);
  await pool.query(`copy bench_source to '${file}'`);
  const started = performance.now();
  await pool.query(`copy bench_rows from '${file}'`);
  const seconds = (performance.now() - started) / 1000;
  await pool.query("drop table bench_rows, bench_source");
  return COPIED / seconds;
}

/**
 * Inspections a second: through HTTP one by one and in batches of 100, and through the command, against a route that does
 * nothing and the same rows by COPY, all in one run on an embedded server with full durability.
 */
export async function bench(): Promise<BenchLine[]> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-bench-"));
  const server = await startEmbedded({ folder });
  const url = server.url();
  const secret = randomBytes(32).toString("hex");
  Object.assign(process.env, { DATABASE_URL: url, AUTH_SECRET: secret, LOG_LEVEL: "error" });
  let app: ChildProcess | null = null;
  try {
    await migrate(url);
    const total = SINGLE + 2 * BATCHES * BATCH_SIZE;
    const plant = await createTestPlant({ frames: total });
    // As the server does by itself within a minute of so many new rows.
    await getPool().query("analyze");
    const { token } = await createToken(await plant.as("administrator"), { name: "bench", scopes: ["readings:write"] });
    const inspections = makeInspections(plant, total);
    const take = (count: number): RecordInspection[] => inspections.splice(0, count);

    const chunks = Array.from({ length: BATCHES }, () => take(BATCH_SIZE));
    const started = performance.now();
    for (const chunk of chunks) {
      const outcomes = await recordInspections(plant.system, chunk);
      if (outcomes.some((one) => one.status !== "recorded"))
        throw new Error("bench: the command refused an inspection");
    }
    const command = (BATCHES * BATCH_SIZE * 1000) / (performance.now() - started);
    const copy = await copyRate(plant);

    const port = 20_000 + Math.floor(Math.random() * 20_000);
    app = await startApp(
      { ...process.env, NODE_ENV: "production", SHELLGATE_ORIGIN: `http://localhost:${port}` },
      port,
    );
    const empties = Array.from({ length: SINGLE }, () => ({ path: "/api/v1/alive" }));
    await rate(port, token, empties.slice(0, 500));
    const warm = take(200).map((body) => ({ path: "/api/v1/inspections", body }));
    await rate(port, token, warm);
    const empty = await rate(port, token, empties);
    const single = await rate(
      port,
      token,
      take(SINGLE - 200).map((body) => ({ path: "/api/v1/inspections", body })),
    );
    const batches = Array.from({ length: BATCHES }, () => ({
      path: "/api/v1/inspections",
      body: { inspections: take(BATCH_SIZE) },
    }));
    const batched = (await rate(port, token, batches)) * BATCH_SIZE;
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
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
