import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { listenLive, type LiveMessage } from "@/lib/server/live/live-channel";
import { sql } from "@/lib/server/db/sql";
import { closeEscapes, listEscapes } from "@/lib/server/gate/escapes";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { readMonth } from "@/lib/server/today/month";
import { readToday } from "@/lib/server/today/queries";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 4 });
});

const tasks = async (...roles: Parameters<TestPlant["as"]>) => (await readToday(await plant.as(...roles))).tasks;
const kinds = async (...roles: Parameters<TestPlant["as"]>) =>
  (await tasks(...roles)).map(({ about, isMine }) => `${about.kind}${isMine ? "" : ", with others"}`);
/** A bore far too small. */
const TOO_SMALL = { "ds.bore.8@12-6": 40.8 };

describe("Today", () => {
  it("is quiet where nothing waits, and says which day it shows", async () => {
    const before = await readToday(await plant.as("engineer"));
    expect(before).toMatchObject({ tasks: [], day: null });
    expect(before.kinds).toEqual(["escapes", "gauge", "case", "batch", "first-off", "device", "job"]);
    await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002")]);
    const after = await readToday(await plant.as("engineer"));
    expect(after.tasks).toEqual([]);
    expect(after.lines).toMatchObject([
      { line: "L1", measured: 2, frames: [{ serial: "T-0001", verdict: "conforms" }, { serial: "T-0002" }] },
    ]);
  });

  it("shows who may not see something nothing of it", async () => {
    expect((await readToday(await plant.as("administrator"))).kinds).toEqual(["job"]);
  });

  it("names a held batch with its counts, and asks those who decide", async () => {
    await recordInspections(plant.system, [plant.inspection("T-0001", TOO_SMALL), plant.inspection("T-0002")]);
    expect((await tasks("supplier_manager")).filter(({ about }) => about.kind === "batch")).toMatchObject([
      {
        about: { batch: TEST_BATCH, counts: { frames: 4, notConforming: 1, unmeasured: 2 }, side: "open" },
        href: `/gate/batches/${TEST_BATCH}`,
        isMine: true,
      },
    ]);
    expect(await kinds("auditor")).toContain("batch, with others");
  });

  it("puts frames at customers first for who answers for releases, until they are closed", async () => {
    await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002", TOO_SMALL)]);
    await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0001" });
    await database.pool.query(sql`
      insert into escape (plant_id, id, frame_id, reason, opened_at)
      select plant_id, gen_random_uuid(), id, 'Gauge TB-1 failed its zero check.', now() from frame
      where plant_id = ${plant.plantId} and serial = 'T-0001'`);
    const [first] = await tasks("supplier_manager");
    expect(first).toMatchObject({ about: { kind: "escapes", frames: 1 }, isMine: true });
    const manager = await plant.as("supplier_manager");
    const escapes = (await listEscapes(manager)).map(({ id }) => id);
    await closeEscapes(manager, { id: uuidV7(), escapes, told: "the buyer", grounds: "called back", password: "x" });
    expect((await kinds("supplier_manager")).filter((kind) => kind.startsWith("escapes"))).toEqual([]);
  });

  it("tells open screens of what was done elsewhere than on a line", async () => {
    const told: (LiveMessage | "reconnected")[] = [];
    const stop = listenLive((message) => told.push(message));
    try {
      await vi.waitFor(async () => {
        await createSettingRing(plant.system, {
          key: `R-${told.length}-${uuidV7().slice(-6)}`,
          certifiedSizeMm: 41,
          uncertaintyUm: 0.8,
        });
        expect(told).toContainEqual(expect.objectContaining({ plant: plant.plantId, line: null }));
      }, 10_000);
    } finally {
      stop();
    }
  });
});

describe("the month", () => {
  it("counts a frame by its first measurement of an operation, with the interval that the count bears", async () => {
    await recordInspections(plant.system, [
      plant.inspection("T-0001", TOO_SMALL),
      plant.inspection("T-0002"),
      plant.inspection("T-0003"),
    ]);
    await recordInspections(plant.system, [{ ...plant.inspection("T-0001"), reason: "measured again" }]);
    const engineer = await plant.as("engineer");
    const month = await readMonth(engineer);
    expect(month.lines).toMatchObject([{ line: "L1", measured: 3, passed: 2 }]);
    // scipy.stats.binomtest(2, 3).proportion_ci(0.95, "exact"): 0.094299, 0.991596
    expect(month.lines[0]?.lower).toBeCloseTo(0.094299, 6);
    expect(month.lines[0]?.upper).toBeCloseTo(0.991596, 6);
    expect(month.failures).toMatchObject([{ serial: "T-0001", verdict: "does not conform", batch: TEST_BATCH }]);
    expect(month.failed).toBe(1);
    expect((await readMonth(engineer, "another line")).failures).toEqual([]);
    const later = new Date(Date.now() + 40 * 86_400_000);
    expect((await readMonth(engineer, null, later)).lines).toEqual([]);
    await expect(readMonth(await plant.as("administrator"))).rejects.toMatchObject({ code: "forbidden" });
  });
});
