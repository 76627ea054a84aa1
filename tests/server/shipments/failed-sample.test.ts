import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { acceptSampleRisk } from "@/lib/server/gate/accept-sample-risk";
import { decideFrames, releaseBatch } from "@/lib/server/gate/commands";
import { enquireBatch } from "@/lib/server/gate/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { enquireFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { askForFrames, createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const serialOf = (place: number) => `T-${String(place).padStart(4, "0")}`;
/** The first and every fourth of twenty. */
const SAMPLED = [1, 4, 8, 12, 16, 20].map(serialOf);
const FAILED = SAMPLED.slice(0, 3);
const UNMEASURED = serialOf(2);

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 20, plan: "routine" });
  await askForFrames(plant, { kind: "every", n: 4, firstOff: true });
});

const batch = async () => {
  const { rows } = await database.pool.query<{ id: string; version: number }>(sql`
    select id, version from batch where plant_id = ${plant.plantId}`);
  if (!rows[0]) throw new Error("the plant has no batch");
  return { batchId: rows[0].id, batchVersion: rows[0].version };
};
const signed = async () => ({
  id: uuidV7(),
  grounds: "as agreed with the customer",
  password: "x",
  ...(await batch()),
});
const refusalOf = async (promise: Promise<unknown>): Promise<AppError> => {
  try {
    await promise;
  } catch (error) {
    if (error instanceof AppError) return error;
    throw error;
  }
  throw new Error("it was not refused");
};
/** Frames that the plan asks for and that have no result. */
async function measureSample(): Promise<void> {
  await recordInspections(
    plant.system,
    SAMPLED.map((serial) => plant.inspection(serial, FAILED.includes(serial) ? { "ds.bore.8@12-6": 40.9 } : {})),
  );
}

describe("a sample that failed", () => {
  it.each(["scrap", "return_to_supplier", "regrade", "rework"] as const)(
    "is not gone with a %s",
    async (disposition) => {
      await measureSample();
      const manager = await plant.as("supplier_manager");
      const failed = await database.pool.query<{ serial: string }>(sql`
      select serial from frame where plant_id = ${plant.plantId} and verdict = 'does not conform' order by serial`);
      expect(failed.rows.map(({ serial }) => serial)).toEqual(FAILED);
      await decideFrames(manager, { ...(await signed()), serials: FAILED, disposition });
      if (disposition === "rework")
        await recordInspections(
          plant.system,
          FAILED.map((serial) => plant.inspection(serial)),
        );
      const asked = await enquireBatch(manager, TEST_BATCH);
      const reason = asked.reasons.find(({ code }) => code === "sample-failed");
      expect(asked.answer).toBe("stop");
      expect(reason?.serials).toEqual(FAILED);
      expect(reason?.text).toContain("3 of 6 measured frames did not conform");
      expect((await refusalOf(releaseBatch(manager, await signed()))).userMessage).toContain("3 of 6");
      const dock = await plant.as("dock");
      const answer = await enquireFrame(dock, UNMEASURED);
      expect(answer.reasons.map(({ code }) => code)).toContain("sample-failed");
    },
  );

  it("lets the rest go by a signed decision that shows the risk in numbers, until another frame fails", async () => {
    await measureSample();
    const manager = await plant.as("supplier_manager");
    await decideFrames(manager, { ...(await signed()), serials: FAILED, disposition: "scrap" });
    expect(await refusalOf(acceptSampleRisk(await plant.as("engineer"), await signed()))).toMatchObject({
      code: "forbidden",
    });
    await acceptSampleRisk(manager, await signed());
    await releaseBatch(manager, await signed());
    const dock = await plant.as("dock");
    expect(await enquireFrame(dock, UNMEASURED)).toMatchObject({
      answer: "go",
      reasons: [{ code: "by-sample", text: expect.stringContaining("3 of them did not conform; the risk was taken") }],
    });
    const { rows } = await database.pool.query(sql`
      select kind::text as kind, (evidence ->> 'mostNonconforming')::int as most, evidence -> 'found' as found
      from decision where plant_id = ${plant.plantId} and kind = 'accept_sample_risk'`);
    // Of 20 with 16 nonconforming, a sample of 6 holds three good ones or more in (4 x 560 + 120) of 38,760 cases, 6.1 %; with
    // 17 in 680 of them, 1.8 %: so up to 16, which is 13 of the 14 that nobody measured.
    expect(rows).toEqual([{ kind: "accept_sample_risk", most: 13, found: FAILED }]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    await recordInspections(plant.system, [plant.inspection(serialOf(3), { "ds.bore.8@12-6": 40.9 })]);
    const answer = await enquireFrame(dock, UNMEASURED);
    expect(answer).toMatchObject({ answer: "stop" });
    expect(answer.reasons.map(({ code }) => code)).toContain("sample-failed");
  });

  it("needs no decision once all are measured, and none is taken where nothing failed", async () => {
    const manager = await plant.as("supplier_manager");
    expect(await refusalOf(acceptSampleRisk(manager, await signed()))).toMatchObject({ code: "refused" });
    await measureSample();
    await decideFrames(manager, { ...(await signed()), serials: FAILED, disposition: "scrap" });
    const rest = Array.from({ length: 20 }, (_, place) => serialOf(place + 1)).filter(
      (serial) => !SAMPLED.includes(serial),
    );
    await recordInspections(
      plant.system,
      rest.map((serial) => plant.inspection(serial)),
    );
    expect((await enquireBatch(manager, TEST_BATCH)).reasons).toEqual([]);
  });
});

describe("a frame that came back", () => {
  it("is stopped with every reason, not only because it shipped before", async () => {
    plant = await createTestPlant({ frames: 2 });
    await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002")]);
    await database.pool.query(sql`
      update frame set state = 'shipped', shipped_at = now() where plant_id = ${plant.plantId} and serial = 'T-0001'`);
    await recordInspections(plant.system, [
      { ...plant.inspection("T-0001", { "ds.bore.8@12-6": 40.9 }), reason: "customer return" },
    ]);
    const answer = await enquireFrame(await plant.as("dock"), "T-0001");
    expect(answer.reasons.map(({ code }) => code)).toEqual(["shipped", "evidence-against"]);
    expect(answer.reasons[1]?.text).toContain(
      "bore of the DS seat does not conform, 40.900 mm, limits 40.950 to 41.000 mm",
    );
  });
});
