import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { gaugeStudyFinding } from "@/lib/quality/gauge-study-finding";
import { uuidV7 } from "@/lib/schemas/identifier";
import { planStudySchema, type PlanStudy } from "@/lib/schemas/gauge-study";
import { getStudy, keyStudyReading, listStudies, planStudy } from "@/lib/server/gauges/studies";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { PRINTED } from "../../core/gauge-studies/gauge-study-cases";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { expectDigits } from "../../helpers/expect-digits";
import { createTestPlant, TEST_GAUGES, type TestPlant } from "../../helpers/plant";
import reference from "../../reference/gauge-studies.json";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 1 });
});
afterAll(async () => database.drop());

const distinct = (key: "part" | "inspector") => [...new Set(PRINTED.map((each) => each[key]))];
const plan = (change: Partial<PlanStudy> = {}): PlanStudy => ({
  id: uuidV7(),
  gauge: TEST_GAUGES.bore,
  title: "Ten shells",
  unit: "mm",
  tolerance: 8,
  parts: distinct("part"),
  inspectors: distinct("inspector"),
  trials: 3,
  ...change,
});

describe("a study of 10 x 3 x 3", () => {
  it("is keyed in a drawn order, goes on where it stopped, and says what the printed one says", async () => {
    const engineer = await plant.as("engineer");
    const inspector = await plant.as("inspector");
    const { id } = await planStudy(engineer, plan(), { seed: 41 });
    const seen: string[] = [];
    for (const who of distinct("inspector")) {
      for (let count = 0; count < 30; count += 1) {
        const { next, readings } = await getStudy(inspector, id, who);
        // Nobody sees a value before all are there.
        expect(readings).toBeNull();
        if (next === null) throw new Error("nothing is asked for");
        expect([next.inspector, next.number, next.of]).toEqual([who, count + 1, 30]);
        const trial = String(Math.floor(count / 10) + 1);
        const reading = PRINTED.find(
          (each) => each.part === next.part && each.inspector === who && each.trial === trial,
        );
        seen.push(next.part);
        const keyed = { id: uuidV7(), study: id, place: next.place, value: reading?.value ?? Number.NaN };
        await keyStudyReading(inspector, keyed);
        // Sent again after a lost answer it changes nothing.
        if (count === 3) await keyStudyReading(inspector, keyed);
      }
    }
    // Each inspector gets all parts in each trial, never twice in the same order.
    const rounds = Array.from({ length: 9 }, (_, round) => seen.slice(round * 10, round * 10 + 10));
    for (const round of rounds) expect([...round].sort()).toEqual([...distinct("part")].sort());
    expect(new Set(rounds.map(String)).size).toBe(9);
    const { readings, study } = await getStudy(engineer, id, null);
    expect([study.keyed, study.asked]).toEqual([90, 90]);
    const finding = gaugeStudyFinding(readings ?? []);
    if (!finding.ok) throw new Error(finding.reason);
    const { sigma } = (reference.cases[1]?.computed as unknown as { pooled: { sigma: Record<string, number> } }).pooled;
    expectDigits(finding.value.components.sds.gauge, sigma.GRR ?? 0, 11);
    const exact = (reference.cases[0]?.computed as unknown as { with_exact_K: Record<string, number> }).with_exact_K;
    expectDigits(finding.value.ranges?.sds.gauge ?? 0, exact.GRR ?? 0, 9);
    // The printed means: A 0.1903, B 0.0683, C -0.2543; C less the mean of A and B.
    expect(finding.value.off?.inspector).toBe("C");
    expect(Math.abs((finding.value.off?.difference ?? 0) - (-0.2543 - (0.1903 + 0.0683) / 2))).toBeLessThan(1e-4);
    expect((await listStudies(engineer))[0]).toMatchObject({ id, keyed: 90 });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("takes a corrected reading as a new record that counts instead", async () => {
    const engineer = await plant.as("engineer");
    const small = plan({ parts: ["1", "2"], inspectors: ["A", "B"], trials: 2, tolerance: null });
    const { id } = await planStudy(engineer, small, { seed: 1 });
    const key = (place: number, value: number, at: Date) =>
      keyStudyReading(engineer, { id: uuidV7(), study: id, place, value }, at);
    for (let place = 0; place < 8; place += 1) await key(place, place === 3 ? 410 : 41 + place / 1000, new Date(1e12));
    await key(3, 41.003, new Date(1e12 + 1000));
    const { readings } = await getStudy(engineer, id, null);
    expect(readings?.map(({ value }) => value).sort()).toEqual(
      Array.from({ length: 8 }, (_, place) => 41 + place / 1000),
    );
  });

  it("is refused in words where it cannot be", async () => {
    const [engineer, inspector] = [await plant.as("engineer"), await plant.as("inspector")];
    await expect(planStudy(inspector, plan(), { seed: 1 })).rejects.toMatchObject({ code: "forbidden" });
    await expect(planStudy(engineer, plan({ gauge: "none" }), { seed: 1 })).rejects.toMatchObject({
      code: "not-found",
    });
    const { id } = await planStudy(engineer, plan(), { seed: 1 });
    await expect(keyStudyReading(engineer, { id: uuidV7(), study: id, place: 90, value: 1 })).rejects.toMatchObject({
      code: "invalid-input",
    });
    await expect(getStudy(engineer, "nothing", null)).rejects.toMatchObject({ code: "not-found" });
    await expect(getStudy(await plant.as("dock"), id, null)).rejects.toMatchObject({ code: "forbidden" });
    const words = (change: Partial<PlanStudy>) => planStudySchema.safeParse(plan(change)).error?.issues[0]?.message;
    expect(words({ inspectors: ["A"] })).toBe("must be at least two inspectors");
    expect(words({ parts: ["1", "1"] })).toBe("must be different parts");
    expect(words({ trials: 1 })).toMatch(/nothing repeats/);
  });
});
