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

/** Alone and beside the heavy requests by turns: what else the machine does falls on both alike. */
const ROUNDS = 8;
/** Frames recorded in each half of a round. */
const RECORDED = 40;
/** Recorded before the clock runs in each half, so that the heavy requests are under way. */
const SETTLING = 5;
const WARM = 100;
/** Frames that a heavy request measures a thousand times each: every request records, none repeats what is there. */
const STUDIED = 120;
/** A busy plant: several stations together finish a frame every so often. */
const PAUSE_MS = 25;
const ANALYSIS = "/api/v1/analysis";

const sleep = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? 0;
}

type Sent = { readonly path: string; readonly text?: string };

/** The longest questions that are taken: 0.7 MB of findings, 100,000 values with 25,000 tools, 10,000 draws. */
function heavyQuestions(): readonly Sent[] {
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
  ];
}

/** One frame a thousand times. */
function studyOf(plant: TestPlant, serial: string): Sent {
  const inspections = Array.from({ length: 1000 }, (_, index) => ({
    ...plant.inspection(serial),
    id: uuidV7(),
    reason: "measured again for a study",
    deviceTime: new Date(Date.now() - (1000 - index) * 1000).toISOString(),
  }));
  return posted({ inspections });
}

/** Sends each of some bodies again as soon as it is answered, until it is told to stop; one that runs out of bodies fails. */
function keepAsking(
  bodies: readonly (() => Sent | undefined)[],
  ask: (agent: http.Agent, sent: Sent) => Promise<number>,
): { readonly stop: () => Promise<ReadonlyMap<number, number>> } {
  let over = false;
  const answers = new Map<number, number>();
  const loops = bodies.map(async (next) => {
    const agent = new http.Agent({ keepAlive: true });
    while (!over) {
      const sent = next();
      if (sent === undefined) throw new Error("bench: no frame is left to study; raise STUDIED");
      const status = await ask(agent, sent);
      answers.set(status, (answers.get(status) ?? 0) + 1);
    }
    agent.destroy();
  });
  const stop = async () => {
    over = true;
    await Promise.all(loops);
    return answers;
  };
  return { stop };
}

/** One small row written and flushed to the disk: what the machine itself asks of whoever records, without Shellgate. */
async function commitTime(owner: pg.Pool): Promise<number> {
  const from = performance.now();
  await owner.query("insert into bench_commit default values");
  return performance.now() - from;
}

type Half = { readonly recorded: number[]; readonly committed: number[]; readonly alive: number[] };
const emptyHalf = (): Half => ({ recorded: [], committed: [], alive: [] });

/**
 * What somebody who records one frame after another waits for, alone and while four of the heaviest requests run all the time,
 * by turns; and how long the process takes to say that it is alive meanwhile. The fourth of them records a frame a thousand times
 * on the same line.
 */
export async function bench(): Promise<BenchLine[]> {
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-load-"));
  const server = await startEmbedded({ folder });
  const addresses = { ownerUrl: server.url(), appUrl: server.appUrl() };
  const secret = randomBytes(32).toString("hex");
  Object.assign(process.env, { DATABASE_URL: addresses.appUrl, AUTH_SECRET: secret, LOG_LEVEL: "error" });
  const owner = new pg.Pool({ connectionString: addresses.ownerUrl, max: 1 });
  // The server stops before the last connection has closed, and must not end the bench before its figures.
  owner.on("error", () => undefined);
  let app: ChildProcess | null = null;
  try {
    await prepareDatabase(addresses);
    const count = 1 + WARM + 2 * ROUNDS * (SETTLING + RECORDED);
    const plant = await createTestPlant({ frames: count + STUDIED });
    await owner.query("create table bench_commit (id bigint generated always as identity)");
    await owner.query("analyze");
    const administrator = await plant.as("administrator");
    const { token } = await createToken(administrator, {
      name: "bench",
      scopes: ["readings:write", "results:read"],
    });
    const inspections = makeInspections(plant, count);
    const studies = Array.from({ length: STUDIED }, (_, index) =>
      studyOf(plant, `T-${String(count + index + 1).padStart(4, "0")}`),
    );
    const heavy = [...heavyQuestions().map((sent) => () => sent), () => studies.shift()];
    const port = 20_000 + Math.floor(Math.random() * 20_000);
    app = await startApp(
      { ...process.env, NODE_ENV: "production", SHELLGATE_ORIGIN: `http://localhost:${port}` },
      port,
    );
    const agent = new http.Agent({ keepAlive: true });
    const timed = async (sent: Sent): Promise<number> => {
      const from = performance.now();
      const status = await request(agent, port, token, sent);
      if (status !== 200) throw new Error(`bench: ${sent.path} answered ${status}`);
      return performance.now() - from;
    };
    const half = async (frames: number, into: Half): Promise<void> => {
      for (const one of inspections.splice(0, frames)) {
        into.recorded.push(await timed(posted(one)));
        into.alive.push(await timed({ path: "/api/v1/alive" }));
        into.committed.push(await commitTime(owner));
        await sleep(PAUSE_MS);
      }
    };
    await half(1 + WARM, emptyHalf());
    const [idle, busy] = [emptyHalf(), emptyHalf()];
    const answers = new Map<number, number>();
    for (let round = 0; round < ROUNDS; round += 1) {
      await half(SETTLING, emptyHalf());
      await half(RECORDED, idle);
      const asking = keepAsking(heavy, (own, sent) => request(own, port, token, sent));
      await half(SETTLING, emptyHalf());
      await half(RECORDED, busy);
      for (const [status, times] of await asking.stop()) answers.set(status, (answers.get(status) ?? 0) + times);
    }
    agent.destroy();
    const other = [...answers.keys()].filter((status) => status !== 200 && status !== 503);
    if (other.length > 0) throw new Error(`bench: heavy requests answered ${other.join(", ")}`);
    const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });
    const at = (values: readonly number[]) => percentile(values, 0.95);
    return [
      told("heavy requests answered", answers.get(200) ?? 0),
      told("of these, frames recorded a thousand times", STUDIED - studies.length),
      told("heavy requests told to come again", answers.get(503) ?? 0),
      told("a frame recorded, alone, median, ms", percentile(idle.recorded, 0.5)),
      told("a frame recorded, beside them, median, ms", percentile(busy.recorded, 0.5)),
      told("a frame recorded, alone, 95 of 100, ms", at(idle.recorded)),
      told("a frame recorded, beside them, 95 of 100, ms", at(busy.recorded)),
      told("a bare commit, alone, 95 of 100, ms", at(idle.committed)),
      told("a bare commit, beside them, 95 of 100, ms", at(busy.committed)),
      told("alive, alone, 95 of 100, ms", at(idle.alive)),
      told("alive, beside them, 95 of 100, ms", at(busy.alive)),
      { name: "recording beside them / alone", value: at(busy.recorded) / at(idle.recorded), goal: 2 },
      { name: "alive beside them, longest, ms", value: Math.max(...busy.alive), goal: 1000 },
    ];
  } finally {
    app?.kill();
    await closeConnections();
    await owner.end();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
