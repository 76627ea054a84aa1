import fc from "fast-check";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { sql } from "@/lib/server/db/sql";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

const FRAMES = 120;
const START = Date.parse("2026-03-02T06:00:00Z");
const MINUTE = 60_000;

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

/** Deviation of a frame in micrometres: a slow wave with a step at frame 70, so that several rules are met. */
const deviationUm = (frame: number): number =>
  ((frame * 37) % 11) - 5 + (frame >= 70 && frame < 84 ? 9 : 0) + (frame === 33 ? 16 : 0) - (frame === 110 ? 15 : 0);

function inspectionOf(plant: TestPlant, frame: number): RecordInspection {
  const plain = plant.inspection(`T-${String(frame + 1).padStart(4, "0")}`);
  const readings = plain.readings.map((value, index) => {
    const spread = (((frame + 3) * (index + 5)) % 7) / 1000;
    if (value === null || value === 0) return value === null ? null : Number((spread * 1000).toFixed(1));
    return Number((value + deviationUm(frame) / 1000 + (value < 80 ? spread : 0)).toFixed(3));
  });
  return { ...plain, id: uuidV7(), readings, deviceTime: new Date(START + frame * MINUTE).toISOString() };
}

/** What is kept of the streams in the end, without keys. */
async function stateOfStreams(plantId: string) {
  const streams = await database.pool.query(sql`
    select st.feature, st.points, st.last_at as "lastAt", l.center, l.lower, l.upper, l.frames, l.baseline_from as "from",
      l.baseline_to as "to"
    from stream st left join limit_set l on l.plant_id = st.plant_id and l.id = st.limit_set_id
    where st.plant_id = ${plantId} order by 1`);
  return streams.rows;
}

/** Records the frames in an order, in transactions of some size, and gives what is kept of the streams. */
async function arrive(order: readonly number[], sizes: readonly number[]) {
  const plant = await createTestPlant({ frames: FRAMES });
  const now = new Date(START + 2 * FRAMES * MINUTE);
  for (let at = 0, turn = 0; at < order.length; turn += 1) {
    const size = sizes[turn % sizes.length] ?? 1;
    const part = order.slice(at, at + size).map((frame) => inspectionOf(plant, frame));
    const outcomes = await recordInspections(plant.system, part, { now });
    expect(outcomes.filter((one) => one.status !== "recorded")).toEqual([]);
    at += size;
  }
  return stateOfStreams(plant.plantId);
}

const sorted = Array.from({ length: FRAMES }, (_, frame) => frame);

describe("inspections that arrive late", () => {
  it("lead to the same limits and counts in whatever order and packets they arrive", async () => {
    const expected = await arrive(sorted, [1]);
    expect(expected.some(({ points }) => points === FRAMES)).toBe(true);
    expect(expected.filter(({ frames }) => frames === 100).length).toBeGreaterThan(5);
    const order = fc.shuffledSubarray(sorted, { minLength: FRAMES, maxLength: FRAMES });
    const sizes = fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 4 });
    await fc.assert(
      fc.asyncProperty(order, sizes, async (arrival, packets) => {
        expect(await arrive(arrival, packets)).toEqual(expected);
      }),
      { seed: 41, numRuns: 8, endOnFailure: true },
    );
  });

  it("do so, too, where one tablet was without a network for a shift", async () => {
    const expected = await arrive(sorted, [1]);
    const away = sorted.filter((frame) => frame >= 10 && frame < 50 && frame % 2 === 0);
    const others = sorted.filter((frame) => !away.includes(frame));
    expect(await arrive([...others, ...away], [1])).toEqual(expected);
    expect(await arrive([...others, ...away], [40])).toEqual(expected);
  });
});
