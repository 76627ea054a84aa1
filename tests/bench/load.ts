import { randomBytes } from "node:crypto";
import { mkdtempSync, rmSync } from "node:fs";
import http from "node:http";
import os from "node:os";
import path from "node:path";
import type { ChildProcess } from "node:child_process";
import pg from "pg";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { uuidV7 } from "@/lib/schemas/identifier";
import { closeConnections } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import type { BenchLine } from "./run";
import { makeInspections, posted, request, startApp } from "./throughput";

const RECORDED = 250;
const WARM = 100;
/** A busy plant: several stations together finish a frame every so often. */
const PAUSE_MS = 25;
const ANALYSIS = "/api/v1/analysis";

const sleep = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
}

/** The longest questions that are taken: 0.7 MB of findings, 100,000 values with 25,000 tools, 10,000 draws, one frame often. */
function heavyRequests(plant: TestPlant): readonly { path: string; text: string }[] {
  const random = createSeededGenerator(7);
  const values = Array.from({ length: 100_000 }, () => 41 + 0.003 * random.normal());
  const frames = Array.from({ length: 3000 }, (_, position) => ({
    position,
    factors: Object.fromEntries(Array.from({ length: 12 }, (_, f) => [`f${f}`, `v${f} ${position % 1500}`])),
  }));
  const signals = Array.from({ length: 300 }, (_, index) => {
    const points = Array.from({ length: 31 }, (_, k) => index * 9 + k);
    return { stream: `s${index}`, position: index * 9, from: index * 9, points };
  });
  const readings: Record<string, number> = {};
  for (const seat of ["ds", "nds"])
    for (const depth of [2, 8])
      for (const clock of ["12-6", "1:30-7:30", "3-9", "4:30-10:30"])
        readings[`${seat}.bore.${depth}@${clock}`] = 40.98;
  for (const depth of [2, 8])
    for (let angle = 0; angle < 360; angle += 5)
      readings[`nds.sweep.${depth}@${angle}`] = 5 * Math.sin(angle / 57) + random.normal();
  const again = Array.from({ length: 1000 }, (_, index) => ({
    ...plant.inspection("T-0001"),
    id: uuidV7(),
    reason: "measured again for a study",
    deviceTime: new Date(Date.now() - (1000 - index) * 1000).toISOString(),
  }));
  const analysis = (body: unknown) => ({ path: ANALYSIS, text: JSON.stringify(body) });
  return [
    analysis({ kind: "findings", signals, frames }),
    analysis({
      kind: "chart",
      chart: { chart: "trended", values, toolChanges: Array.from({ length: 25_000 }, (_, index) => 4 * index) },
    }),
    {
      path: "/api/v1/geometry",
      text: JSON.stringify({ drawing: "press-fit-41", readings, monteCarlo: { draws: 10_000, seed: 1 } }),
    },
    posted({ inspections: again }) as { path: string; text: string },
  ];
}

/**
 * What somebody who records one frame after another waits for, alone and while four of the heaviest requests run all the time;
 * and how long the process takes to say that it is alive meanwhile.
 */
export async function bench(): Promise<BenchLine[]> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-load-"));
  const server = await startEmbedded({ folder });
  const addresses = { ownerUrl: server.url(), appUrl: server.appUrl() };
  const secret = randomBytes(32).toString("hex");
  Object.assign(process.env, { DATABASE_URL: addresses.appUrl, AUTH_SECRET: secret, LOG_LEVEL: "error" });
  const owner = new pg.Pool({ connectionString: addresses.ownerUrl, max: 1 });
  let app: ChildProcess | null = null;
  try {
    await prepareDatabase(addresses);
    const plant = await createTestPlant({ frames: WARM + 2 * RECORDED + 10 });
    await owner.query("analyze");
    const administrator = await plant.as("administrator");
    const { token } = await createToken(administrator, {
      name: "bench",
      scopes: ["readings:write", "results:read"],
    });
    const [first, ...inspections] = makeInspections(plant, WARM + 2 * RECORDED + 1);
    const port = 20_000 + Math.floor(Math.random() * 20_000);
    app = await startApp(
      { ...process.env, NODE_ENV: "production", SHELLGATE_ORIGIN: `http://localhost:${port}` },
      port,
    );
    const agent = new http.Agent();
    const timed = async (sent: { path: string; text?: string }): Promise<number> => {
      const from = performance.now();
      const status = await request(agent, port, token, sent);
      if (status !== 200) throw new Error(`bench: ${sent.path} answered ${status}`);
      return performance.now() - from;
    };
    const record = async (count: number): Promise<number[]> => {
      const times: number[] = [];
      for (const one of inspections.splice(0, count)) {
        times.push(await timed(posted(one)));
        await sleep(PAUSE_MS);
      }
      return times;
    };
    await timed(posted(first));
    await record(WARM);
    const idle = await record(RECORDED);

    let over = false;
    const answers = new Map<number, number>();
    const loops = heavyRequests(plant).map(async (sent) => {
      const own = new http.Agent();
      while (!over) {
        const status = await request(own, port, token, sent);
        answers.set(status, (answers.get(status) ?? 0) + 1);
      }
      own.destroy();
    });
    const alive: number[] = [];
    const pulse = (async () => {
      while (!over) {
        alive.push(await timed({ path: "/api/v1/alive" }));
        await sleep(PAUSE_MS);
      }
    })();
    const busy = await record(RECORDED);
    over = true;
    await Promise.all([...loops, pulse]);
    agent.destroy();
    const other = [...answers.keys()].filter((status) => status !== 200 && status !== 503);
    if (other.length > 0) throw new Error(`bench: heavy requests answered ${other.join(", ")}`);
    const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });
    const [before, during] = [percentile(idle, 0.95), percentile(busy, 0.95)];
    return [
      told("heavy requests answered", answers.get(200) ?? 0),
      told("heavy requests told to come again", answers.get(503) ?? 0),
      told("a frame recorded, alone, 95 of 100, ms", before),
      told("a frame recorded, beside them, 95 of 100, ms", during),
      told("alive, beside them, 95 of 100, ms", percentile(alive, 0.95)),
      { name: "recording beside them / alone", value: during / before, goal: 2 },
      { name: "alive beside them, longest, ms", value: Math.max(...alive), goal: 1000 },
    ];
  } finally {
    app?.kill();
    await closeConnections();
    await owner.end();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
