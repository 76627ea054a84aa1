import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "@/lib/server/db/sql";
import { acceptSampleRisk } from "@/lib/server/gate/accept-sample-risk";
import { enquireBatch, getBatch, listBatches } from "@/lib/server/gate/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { drawSample } from "@/lib/server/line/draw-sample";
import { enquireFrame, shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { askForFrames, createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 6, plan: "routine" });
});

const measure = (serials: readonly string[]) =>
  recordInspections(
    plant.system,
    serials.map((serial) => plant.inspection(serial)),
  );
/** A new line proves nothing about the frames that nobody measured: somebody signs for them. */
async function signForTheRest(): Promise<void> {
  const { rows } = await database.pool.query<{ id: string; version: number }>(sql`
    select id, version from batch where plant_id = ${plant.plantId}`);
  const { id = "", version = 0 } = rows[0] ?? {};
  const draft = { id: uuidV7(), grounds: "as agreed", password: "x", batchId: id, batchVersion: version };
  await acceptSampleRisk(await plant.as("supplier_manager"), draft);
}
const stateInList = async () => {
  const batches = await listBatches(await plant.as("supplier_manager"));
  return batches.find((batch) => batch.key === TEST_BATCH)?.state;
};
const EVERY_SERIAL = Array.from({ length: 6 }, (_, place) => `T-000${place + 1}`);

describe("a batch judged by a sample", () => {
  it("is complete with the frames that the plan names, not with as many others", async () => {
    await askForFrames(plant, { kind: "every", n: 3, firstOff: true });
    const dock = await plant.as("dock");
    await measure(["T-0002", "T-0004", "T-0005"]);
    expect(await enquireFrame(dock, "T-0002")).toMatchObject({
      answer: "stop",
      reasons: [{ code: "batch-incomplete", text: expect.stringMatching(/^3 of the 3 frames that the plan asks for/) }],
    });
    expect(await enquireBatch(dock, TEST_BATCH)).toMatchObject({ answer: "stop", state: "open" });
    expect(await stateInList()).toBe("open");
    await measure(["T-0001", "T-0003", "T-0006"]);
    expect(await enquireFrame(dock, "T-0004")).toMatchObject({ answer: "go" });
    expect(await enquireBatch(dock, TEST_BATCH)).toMatchObject({ state: "clear" });
    expect(await stateInList()).toBe("clear");
  });

  it("lets an unmeasured frame go, with how many were measured, when those drawn conform", async () => {
    await askForFrames(plant, { kind: "drawn", size: 2 });
    const dock = await plant.as("dock");
    const batch = await enquireBatch(dock, TEST_BATCH);
    const drawn = await drawSample(await plant.as("inspector"), { id: batch.id, key: TEST_BATCH, size: 2 });
    const others = EVERY_SERIAL.filter((serial) => drawn?.includes(serial) !== true);
    await measure(others.slice(0, 2));
    expect(await enquireFrame(dock, others[3] ?? "")).toMatchObject({ answer: "stop" });
    await measure(drawn ?? []);
    await signForTheRest();
    expect(await enquireFrame(dock, others[3] ?? "")).toMatchObject({
      answer: "go",
      reasons: [
        {
          code: "by-sample",
          text: `By sample: 4 of the 6 frames of batch ${TEST_BATCH} were measured. The risk of the others was taken by a signed decision.`,
        },
      ],
    });
    expect(await shipFrame(dock, { id: uuidV7(), serial: others[3] ?? "" })).toMatchObject({ answer: "shipped" });
  });

  it("does not ship before its sample was drawn", async () => {
    await askForFrames(plant, { kind: "drawn", size: 2 });
    await measure(["T-0001", "T-0002"]);
    expect(await enquireFrame(await plant.as("dock"), "T-0001")).toMatchObject({
      answer: "stop",
      reasons: [{ code: "batch-incomplete", text: expect.stringContaining("its sample is drawn when") }],
    });
    expect(await stateInList()).toBe("open");
  });

  it("is asked for another frame in the place of one that left unmeasured, in the list and on its page, too", async () => {
    await askForFrames(plant, { kind: "every", n: 3, firstOff: true });
    const dock = await plant.as("dock");
    await measure(["T-0001", "T-0003"]);
    await database.pool.query(sql`
      update frame set state = 'scrapped' where plant_id = ${plant.plantId} and serial = 'T-0006'`);
    const says = async () => ({
      frame: (await enquireFrame(dock, "T-0004")).answer,
      batch: (await enquireBatch(dock, TEST_BATCH)).state,
      page: (await getBatch(await plant.as("supplier_manager"), TEST_BATCH)).state,
      list: await stateInList(),
    });
    expect(await says()).toEqual({ frame: "stop", batch: "open", page: "open", list: "open" });
    await measure(["T-0005"]);
    await signForTheRest();
    expect(await says()).toEqual({ frame: "go", batch: "clear", page: "clear", list: "clear" });
  });
});
