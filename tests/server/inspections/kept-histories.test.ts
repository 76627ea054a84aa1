import pg from "pg";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { forgetReferenceData } from "@/lib/server/evidence/reference-data";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import type { RecordingOutcome } from "@/lib/server/inspections/recorded";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 12 });
});
afterAll(async () => database.drop());

/** How often every inspection of a frame was read to judge it. */
async function readingsOfAll<T>(work: () => Promise<T>): Promise<{ readonly result: T; readonly read: number }> {
  const query = vi.spyOn(pg.Client.prototype, "query");
  const result = await work();
  const texts = query.mock.calls.map(([statement]) => (statement as { text?: string } | string | undefined) ?? "");
  const read = texts.filter((one) => typeof one !== "string" && one.text?.includes('as "batchPlanId"')).length;
  query.mockRestore();
  return { result, read };
}

type Step = { readonly change: Record<string, number>; readonly minutesAgo: number; readonly withdraws: boolean };

/** Good readings with a bad one or a doubtful one now and then, some of them late, some withdrawn. */
function stepsOf(seed: number, count: number): Step[] {
  const random = createSeededGenerator(seed);
  return Array.from({ length: count }, (_, index) => {
    const kind = random.uniform();
    const bore = kind < 0.08 ? 41.03 : kind < 0.2 ? 40.998 : 40.975 + 0.001 * random.normal();
    const late = random.uniform() < 0.15 ? 400 : 0;
    return {
      change: { "ds.bore.2@12-6": bore },
      minutesAgo: 2000 + late - index,
      withdraws: random.uniform() < 0.12,
    };
  });
}

/** What was said of each: everything but keys and serials, and what batch and streams have of other frames. */
const told = (outcome: RecordingOutcome | undefined, serial: string): string =>
  JSON.stringify({ ...outcome, id: null, serial: null, batchHeld: null }).replaceAll(serial, "SERIAL");

async function runThrough(serial: string, steps: readonly Step[], before: () => void): Promise<string[]> {
  const engineer = await plant.as("engineer");
  const answers: string[] = [];
  const start = Date.parse("2026-11-20T12:00:00Z");
  for (const { change, minutesAgo, withdraws } of steps) {
    const input: RecordInspection = {
      ...plant.inspection(serial, change),
      reason: "measured again for a study",
      deviceTime: new Date(start - minutesAgo * 60_000).toISOString(),
    };
    before();
    const [outcome] = await recordInspections(plant.system, [input]);
    answers.push(told(outcome, serial));
    if (!withdraws) continue;
    before();
    const withdrawn = await withdrawInspection(engineer, { id: input.id, reason: "a slip" });
    answers.push(withdrawn.frameState);
  }
  return answers;
}

describe("a frame that is measured again and again, one request each", () => {
  it("is judged exactly as if all were read each time, whatever comes late or is withdrawn between", async () => {
    for (const [index, seed] of [3, 11].entries()) {
      const steps = stepsOf(seed, 45);
      const kept = await runThrough(`T-000${2 * index + 1}`, steps, () => {});
      const anew = await runThrough(`T-000${2 * index + 2}`, steps, () => forgetReferenceData(plant.plantId));
      expect(kept).toEqual(anew);
      expect(new Set(kept).size).toBeGreaterThan(5);
    }
  });

  it("does not read all that was there before with each", async () => {
    const again = (index: number): RecordInspection => ({
      ...plant.inspection("T-0009"),
      reason: "measured again for a study",
      deviceTime: new Date(Date.now() - (100 - index) * 60_000).toISOString(),
    });
    await recordInspections(
      plant.system,
      Array.from({ length: 20 }, (_, index) => again(index)),
    );
    const { read } = await readingsOfAll(async () => {
      for (let index = 20; index < 60; index += 1) {
        const [outcome] = await recordInspections(plant.system, [again(index)]);
        expect([outcome?.status, outcome?.status === "recorded" && outcome.ordinal]).toEqual(["recorded", index + 1]);
      }
    });
    // Once for each two seconds at most, for which what is known of the plant is kept.
    expect(read).toBeLessThan(20);
  });

  it("is judged by what another process added meanwhile", async () => {
    const at = (minutes: number, change = {}) => ({
      ...plant.inspection("T-0010", change),
      reason: "measured again for a study",
      deviceTime: new Date(Date.now() - minutes * 60_000).toISOString(),
    });
    await recordInspections(
      plant.system,
      Array.from({ length: 15 }, (_, index) => at(100 - index)),
    );
    const [before] = await recordInspections(plant.system, [at(50)]);
    expect(before).toMatchObject({ frameVerdict: "conforms", ordinal: 16 });
    // As another process would: the rows of a frame that does not conform, without this process knowing of it.
    const bad = at(40, { "ds.bore.2@12-6": 41.03 });
    await recordInspections(plant.system, [{ ...bad, serial: "T-0011" }]);
    await database.owner.query("alter table inspection disable trigger all");
    await database.owner.query(
      "update inspection set ordinal = 17, frame_id = (select id from frame where serial = 'T-0010') where id = $1",
      [bad.id],
    );
    await database.owner.query("alter table inspection enable trigger all");
    const [after] = await recordInspections(plant.system, [at(30)]);
    expect(after).toMatchObject({ frameVerdict: "does not conform", ordinal: 18, held: true });
  });
});
