import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 1200 });
});
afterAll(async () => database.drop());

const serial = (index: number) => `T-${String(index + 1).padStart(4, "0")}`;
const minute = (index: number) => new Date(Date.now() - (3000 - index) * 60_000).toISOString();

describe("a frame that is measured a thousand times in one request", () => {
  it("costs no more than a thousand frames, in words beyond that, and its record stays a page", async () => {
    const frames = Array.from({ length: 1000 }, (_, index) => ({
      ...plant.inspection(serial(index + 100)),
      deviceTime: minute(index),
    }));
    const again = Array.from({ length: 1010 }, (_, index) => ({
      ...plant.inspection(serial(0)),
      deviceTime: minute(index),
      reason: "measured again for a study",
    }));
    let from = performance.now();
    const each = await recordInspections(plant.system, frames);
    const floor = performance.now() - from;
    expect(each.filter(({ status }) => status === "recorded")).toHaveLength(1000);
    from = performance.now();
    const outcomes = await recordInspections(plant.system, again);
    const took = performance.now() - from;
    expect(outcomes.filter(({ status }) => status === "recorded")).toHaveLength(1000);
    const refused = outcomes.flatMap((one) => (one.status === "refused" ? one.error : []));
    expect(refused).toHaveLength(10);
    expect([refused[0]?.code, refused[0]?.userMessage]).toEqual(["refused", expect.stringContaining("1000 valid")]);
    // Each judged with all before it took thirty times as long as a thousand frames already with 200 of them.
    expect(took / floor).toBeLessThan(8);

    const auditor = await plant.as("auditor");
    const record = await getFrameRecord(auditor, serial(0));
    expect([record.inspectionCount, record.inspections.length, record.page, record.pages]).toEqual([
      1000, 10, 100, 100,
    ]);
    expect([record.inspections.at(-1)?.ordinal, record.newest?.ordinal]).toEqual([1000, 1000]);
    expect(JSON.stringify(record).length).toBeLessThan(500_000);
    const first = await getFrameRecord(auditor, serial(0), 1);
    expect(first.inspections.map(({ ordinal }) => ordinal)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]);
    expect(first.judgedOn).toBe(1000);
  });
});
