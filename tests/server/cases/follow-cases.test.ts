import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { withDriftingGauge } from "@/lib/simulation/process-faults";
import { casePictures } from "@/app/drift/cases/[id]/case-pictures";
import { readCaseFrames } from "@/lib/server/cases/case-frames";
import { readCase } from "@/lib/server/cases/queries";
import { followLineCases } from "@/lib/server/cases/follow-line";
import { advanceJob } from "@/lib/server/cases/jobs";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { runDueJobs } from "@/lib/server/jobs/run-job";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { serialOf, SIMULATED_FROM, simulatedInspections } from "../../helpers/simulated-inspections";

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

const FRAMES = 180;
const STEP_AT = 120;
/** A gauge that shows 8 µm too little from frame 120 to 149. */
const knocked = (plant: TestPlant): RecordInspection[] =>
  simulatedInspections(plant, FRAMES, {
    seed: 7,
    at: (frame, process, measuring) => ({
      process,
      measuring: frame >= STEP_AT && frame < 150 ? withDriftingGauge(measuring, -8) : measuring,
    }),
  });

const NOW = new Date(SIMULATED_FROM + 10 * 3_600_000);

async function record(plant: TestPlant, inspections: readonly RecordInspection[]): Promise<void> {
  const outcomes = await recordInspections(plant.system, inspections, { now: NOW });
  expect(outcomes.filter(({ status }) => status !== "recorded")).toEqual([]);
}

const casesOf = async ({ plantId }: TestPlant) =>
  (
    await database.pool.query<{
      id: string;
      number: number;
      state: string;
      found: { since: { serial: string } };
      stands: boolean;
      over: boolean;
    }>(
      sql`select id, number, state, found, stands, over_at is not null as over from drift_case where plant_id = ${plantId} order by number`,
    )
  ).rows;

/** Everything that is kept of a line's streams, without keys. */
const stateOf = async ({ plantId }: TestPlant) => {
  const signals = await database.pool.query(sql`
    select f.serial, s.stream, s.side, s.test from alarm_signal s
    join inspection i on i.plant_id = s.plant_id and i.id = s.inspection_id
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id where s.plant_id = ${plantId} order by 1, 2`);
  const cases = await database.pool.query(sql`
    select found - 'events' as found, over_at, since_at from drift_case where plant_id = ${plantId} and stands and state <> 'joined'
    order by since_at`);
  return { signals: signals.rows, cases: cases.rows };
};

const lineOf = async ({ plantId }: TestPlant): Promise<string> =>
  (await database.pool.query<{ id: string }>(sql`select id from line where plant_id = ${plantId}`)).rows[0]?.id ?? "";

describe("a line whose gauge was knocked", () => {
  let plant: TestPlant;
  let inspections: RecordInspection[];
  beforeAll(async () => {
    plant = await createTestPlant({ frames: FRAMES + 5 });
    inspections = knocked(plant);
  });

  it("is followed by a job after the commit, which finds one case since its first frame", async () => {
    await record(plant, inspections.slice(0, 135));
    expect(await runDueJobs([advanceJob])).toBeGreaterThan(0);
    const cases = await casesOf(plant);
    expect(cases).toHaveLength(1);
    const start = Number(cases[0]?.found.since.serial.slice(2)) - 1;
    expect(Math.abs(start - STEP_AT)).toBeLessThanOrEqual(2);
    expect(cases[0]).toMatchObject({ state: "open", over: false, number: 1 });
  });

  it("has a picture: 80 frames before and those since, on one axis for all that moved", async () => {
    const [{ id = "" } = {}] = await casesOf(plant);
    const features = ["nds.bore.mean", "ds.bore.mean"] as const;
    const frames = await readCaseFrames(plant.system, id, features);
    const found = (await readCase(plant.system, id)).found;
    const first = Number(found.since.serial.slice(2));
    expect(frames?.frames.map(({ serial }) => Number(serial.slice(2)))).toEqual(
      Array.from({ length: 80 + 135 - (first - 1) }, (_, index) => first - 80 + index),
    );
    const pictures = frames === null ? [] : casePictures(found, frames, "UTC");
    expect(pictures.map(({ feature }) => feature)).toEqual(features);
    expect(pictures.map(({ spec }) => [spec.xMin, spec.xMax, spec.changePoint?.at])).toEqual([
      [pictures[0]?.spec.xMin, pictures[0]?.spec.xMax, 80.5],
      [pictures[0]?.spec.xMin, pictures[0]?.spec.xMax, undefined],
    ]);
    expect(await readCaseFrames(plant.system, "00000000-0000-4000-8000-000000000000", features)).toBeNull();
  });

  it("ends it when the bores are back, and changes nothing when it is run again", async () => {
    await record(plant, inspections.slice(135));
    await runDueJobs([advanceJob]);
    const before = await stateOf(plant);
    expect(await casesOf(plant)).toMatchObject([{ state: "open", over: true }]);
    await followLineCases(plant.plantId, await lineOf(plant));
    expect(await stateOf(plant)).toEqual(before);
    const entries = await database.pool.query<{ kind: string }>(sql`
      select kind from case_entry where plant_id = ${plant.plantId} order by at, id`);
    expect(entries.rows.map(({ kind }) => kind)).toEqual(["opened", "over"]);
  });

  it("tells once that a case is open", async () => {
    const told = await database.pool.query(sql`
      select topic from outbox where plant_id = ${plant.plantId} and topic like 'case.%'`);
    expect(told.rows).toEqual([{ topic: "case.opened" }]);
  });

  it("ends in the same state in whatever order and parts the frames arrive", async () => {
    const other = await createTestPlant({ frames: FRAMES + 5 });
    const all = knocked(other);
    // As many at first as in the other plant, so that the budget is spread alike.
    // Frames 60 to 69 and 110 to 131 come late, some of them after states were stored behind them.
    const late = (frame: number): boolean => (frame >= 60 && frame < 70) || (frame >= 110 && frame < 132);
    const line = await lineOf(other);
    for (const part of [
      all.filter((_, at) => !late(at) && at < 167),
      all.filter((_, at) => late(at) && at < 120),
      all.filter((_, at) => !late(at) && at >= 167),
      all.filter((_, at) => late(at) && at >= 120),
    ]) {
      await record(other, part);
      await followLineCases(other.plantId, line, { isTold: true });
    }
    expect(await stateOf(other)).toEqual(await stateOf(plant));
  });

  it("says that a case stands no more when its readings are withdrawn, and loses it not", async () => {
    const one = await createTestPlant({ frames: 140 });
    const all = simulatedInspections(one, 140, {
      seed: 9,
      at: (frame, process, measuring) => ({
        process,
        measuring: frame === 130 ? withDriftingGauge(measuring, -60) : measuring,
      }),
    });
    await record(one, all);
    const line = await lineOf(one);
    await followLineCases(one.plantId, line, { isTold: true });
    expect(await casesOf(one)).toMatchObject([{ found: { since: { serial: serialOf(130) } }, stands: true }]);
    await withdrawInspection(await one.as("engineer"), { id: all[130]?.id ?? "", reason: "chips on the gauge" }, NOW);
    await runDueJobs([advanceJob]);
    expect(await casesOf(one)).toMatchObject([{ state: "open", stands: false }]);
    const gone = await database.pool.query(
      sql`select data from case_entry where plant_id = ${one.plantId} and kind = 'gone'`,
    );
    expect(gone.rows).toEqual([{ data: { withdrawn: true } }]);
  });

  it("leaves a journal that verifies", async () => {
    expect(await verifyJournal(plant.plantId)).toMatchObject({ faults: [] });
  });
});
