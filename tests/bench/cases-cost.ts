import { randomBytes } from "node:crypto";
import { mkdtempSync, rmSync } from "node:fs";
import os from "node:os";
import path from "node:path";
import pg from "pg";
import { findDemonstrationDrawing } from "@/lib/quality/demonstration-drawings";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import { ALARM_STREAMS } from "@/lib/quality/alarm/alarm-streams";
import { NOTHING_WATCHED, watchFrame, type WatchedFrame, type WatchSettings } from "@/lib/quality/alarm/watch-line";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { followLineCases } from "@/lib/server/cases/follow-line";
import { closeConnections, getPool } from "@/lib/server/db/client";
import { startEmbedded } from "@/lib/server/db/embedded";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { sql } from "@/lib/server/db/sql";
import { ADVANCE } from "@/lib/server/evidence/case-work";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestPlant, type TestPlant } from "../helpers/plant";
import { simulatedColumns } from "../helpers/simulated-columns";
import type { BenchLine } from "./run";
import { makeInspections } from "./throughput";

const WARM = 400;
/** Turns of single frames, and of frames sent together; in each as many with the work of cases as without it. */
const TURNS = { single: { turns: 120, frames: 10, together: 1 }, batch: { turns: 48, frames: 100, together: 100 } };
const FOLLOWED = 500;

/** A call as the driver takes it from the queue. */
type Call = { readonly values?: readonly unknown[] };
const isWorkOfCases = (call: unknown): boolean =>
  typeof call === "object" && ((call as Call | null)?.values ?? []).some((value) => value === ADVANCE.name);

/** Runs something with nothing queued for the cases: what it would cost if there were none. */
async function withoutCases<T>(work: () => Promise<T>): Promise<T> {
  const prototype = pg.Client.prototype as { query: (...given: unknown[]) => unknown };
  const real = prototype.query;
  prototype.query = function (this: unknown, ...given: unknown[]) {
    if (isWorkOfCases(given[0])) return Promise.resolve({ rows: [], rowCount: 0 });
    return real.apply(this, given);
  };
  try {
    return await work();
  } finally {
    prototype.query = real;
  }
}

const median = (values: readonly number[]): number => {
  const sorted = values.toSorted((a, b) => a - b);
  return ((sorted[(sorted.length - 1) >> 1] ?? 0) + (sorted[sorted.length >> 1] ?? 0)) / 2;
};

async function recordingMs(
  plant: TestPlant,
  inspections: readonly RecordInspection[],
  together: number,
): Promise<number> {
  // A worker has taken what the recording before it queued.
  await getPool().query(sql`delete from jobs.job where name = ${ADVANCE.name}`);
  let spent = 0;
  for (let at = 0; at < inspections.length; at += together) {
    const started = performance.now();
    const outcomes = await recordInspections(plant.system, inspections.slice(at, at + together));
    spent += performance.now() - started;
    if (outcomes.some((one) => one.status !== "recorded")) throw new Error("bench: an inspection was refused");
    await getPool().query(sql`delete from jobs.job where name = ${ADVANCE.name}`);
  }
  return spent;
}

/** Time with the work of cases over time without it, by turns that change places: the middle of all turns, and its error. */
async function ratioOf(
  plant: TestPlant,
  take: (count: number) => RecordInspection[],
  { turns, frames, together }: (typeof TURNS)["single"],
): Promise<{ readonly ratio: number; readonly error: number; readonly ms: number }> {
  const ratios: number[] = [];
  const times: number[] = [];
  for (let turn = 0; turn < turns; turn += 1) {
    const [first, second] = [take(frames), take(frames)];
    const run = (isWith: boolean, some: RecordInspection[]) =>
      isWith ? recordingMs(plant, some, together) : withoutCases(() => recordingMs(plant, some, together));
    const isFirst = turn % 2 === 0;
    const one = await run(isFirst, first);
    const other = await run(!isFirst, second);
    const [own, bare] = isFirst ? [one, other] : [other, one];
    ratios.push(own / bare);
    times.push(own / frames);
  }
  const ratio = median(ratios);
  // 1.4826: from the median deviation to the standard deviation; 1.2533: from the mean's error to the median's (normal).
  const error = (1.2533 * 1.4826 * median(ratios.map((each) => Math.abs(each - ratio)))) / Math.sqrt(turns);
  return { ratio, error, ms: median(times) };
}

/** One point of one stream by the scheme of cases: all of its three tests, its baseline and its state. */
function pointStep(): BenchLine[] {
  const drawing = findDemonstrationDrawing("press-fit-41");
  if (!drawing) throw new Error("bench: press-fit-41");
  const columns = simulatedColumns(drawing, 1500, { seed: 41 });
  const settings: WatchSettings = {
    runLength: () => 8580,
    baselineFrames: 50,
    startAlpha: 0.001,
    guarded: columns.guarded,
    boreReadings: columns.boreReadings,
    unknownWearSd: 2,
  };
  const frames = Array.from({ length: columns.frames }, (_, place): WatchedFrame => {
    const values = new Map(FEATURE_NAMES.map((feature) => [feature, columns.column(feature)[place] ?? null]));
    const outside = new Set(ALARM_STREAMS.filter((stream) => columns.isOutside(place, stream)));
    const failing = new Set(ALARM_STREAMS.filter((stream) => columns.isFailing(place, stream)));
    return {
      id: String(place),
      tool: "R-1",
      value: (feature) => values.get(feature) ?? null,
      isFailing: (stream) => failing.has(stream),
      isOutside: (stream) => outside.has(stream),
    };
  });
  const over = (): { readonly steps: number; readonly us: number } => {
    let watch = NOTHING_WATCHED;
    for (const frame of frames.slice(0, 100)) watch = watchFrame(watch, frame, settings).watch;
    const started = performance.now();
    for (const frame of frames.slice(100)) watch = watchFrame(watch, frame, settings).watch;
    const us = (performance.now() - started) * 1000;
    return { steps: (frames.length - 100) * watch.streams.length, us };
  };
  over();
  const runs = Array.from({ length: 5 }, over).map(({ steps, us }) => us / steps);
  return [{ name: "one point of one stream, µs", value: median(runs), goal: 5 }];
}

/** What cases cost: recording with their work queued over recording without it, by turns in one run, and one point. */
export async function bench(): Promise<BenchLine[]> {
  const point = pointStep();
  const folder = mkdtempSync(path.join(os.tmpdir(), "shellgate-bench-"));
  const server = await startEmbedded({ folder });
  const addresses = { ownerUrl: server.url(), appUrl: server.appUrl() };
  const secret = randomBytes(32).toString("hex");
  Object.assign(process.env, { DATABASE_URL: addresses.appUrl, AUTH_SECRET: secret, LOG_LEVEL: "error" });
  try {
    await prepareDatabase(addresses);
    const sizes = Object.values(TURNS).map(({ turns, frames }) => 2 * turns * frames);
    const total = sizes.reduce((sum, each) => sum + each, WARM + FOLLOWED);
    const plant = await createTestPlant({ frames: total });
    const inspections = makeInspections(plant, total);
    const take = (count: number): RecordInspection[] => inspections.splice(0, count);
    await recordInspections(plant.system, take(WARM / 2));
    await recordingMs(plant, take(WARM / 2), 1);
    const single = await ratioOf(plant, take, TURNS.single);
    const batch = await ratioOf(plant, take, TURNS.batch);
    const { rows } = await getPool().query<{ id: string }>(sql`select id from line where plant_id = ${plant.plantId}`);
    const lineId = rows[0]?.id ?? "";
    await followLineCases(plant.plantId, lineId);
    await recordInspections(plant.system, take(FOLLOWED));
    const started = performance.now();
    await followLineCases(plant.plantId, lineId);
    const followed = (performance.now() - started) / FOLLOWED;
    const line = (name: string, { ratio, error }: typeof single): BenchLine => ({
      name: `${name}, over the same with nothing queued, +- ${error.toFixed(3)}`,
      value: ratio,
      goal: 1.05,
    });
    return [
      ...point,
      line("recording one frame", single),
      line("recording 100 frames together", batch),
      { name: "one frame alone, ms", value: single.ms, goal: null },
      { name: "one of 100 frames together, ms", value: batch.ms, goal: null },
      { name: "the job after it, 500 frames at once, ms a frame", value: followed, goal: null },
    ];
  } finally {
    await closeConnections();
    await server.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}
