import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { isCalibrated } from "@/lib/core/metrology/calibration-in-force";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { decideFrames } from "@/lib/server/gate/commands";
import { getBatch } from "@/lib/server/gate/queries";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { isMeasuredOverdue } from "@/lib/server/evidence/judge-again";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import type { InspectionRecorded } from "@/lib/server/inspections/recorded";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { getStationPackage } from "@/lib/server/line/queries";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { isOverdue } from "@/lib/offline/device/station-gauges";
import { uuidV7 } from "@/lib/schemas/identifier";
import { createSignIn, PASSWORD, setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { boresBy, createTestPlant, TEST_BATCH, type TestPlant } from "../../helpers/plant";

// Days are counted by hand from today: -10 is ten days ago. The rule is that of tests/core/metrology/calibration-in-force.test.ts.
const DAY_MS = 86_400_000;
let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let today: number;
let entered: number;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  today = Date.now();
  entered = 0;
  plant = await createTestPlant({ frames: 6, plan: "routine" });
  engineer = await plant.as("engineer");
  const bore = { kind: "bore", principle: "two-point", resolutionUm: 1 } as const;
  await createGauge(plant.system, { key: "BG-1", name: "bore gauge", ...bore });
});

const on = (day: number): string => new Date(today + day * DAY_MS).toISOString();

/** Enters a calibration; each one a little later than the one before, since the later one decides of two of one day. */
function calibrate(at: number, due: number) {
  entered += 1;
  const input = { gauge: "BG-1", at: on(at), dueAt: on(due), biasUm: null, certificate: "" };
  return addCalibration(engineer, input, new Date(Date.now() + entered));
}

async function measure(serial: string, day: number): Promise<InspectionRecorded> {
  return recordInspection(plant.system, {
    ...plant.inspection(serial),
    gauges: boresBy(plant.names, "BG-1"),
    deviceTime: on(day),
  });
}

async function frame(serial: string) {
  const { rows } = await getPool().query<{ id: string; state: string; escapes: number }>(sql`
    select f.id, f.state::text as state, (select count(*)::int from escape e
      where e.plant_id = f.plant_id and e.frame_id = f.id) as escapes
    from frame f where f.plant_id = ${plant.plantId} and f.serial = ${serial}`);
  return rows[0] ?? { id: "", state: "", escapes: -1 };
}

const gaugeReasons = async () =>
  (await getBatch(engineer, TEST_BATCH)).decision.reasons
    .filter(({ text }) => text.includes("BG-1"))
    .map(({ text, serials }) => ({ text, serials }));

describe("what a gauge proves", () => {
  it("goes by the newest calibration: a shortened interval takes effect", async () => {
    await calibrate(-100, 265);
    await calibrate(-10, -2);
    expect(await measure("T-0001", -50)).toMatchObject({ held: false });
    expect(await measure("T-0002", -5)).toMatchObject({ held: false });
    expect(await measure("T-0003", 0)).toMatchObject({
      held: true,
      warnings: ["Gauge BG-1 was out of calibration: its readings prove nothing for a release."],
    });
    const [reason] = await gaugeReasons();
    expect(reason?.serials).toEqual(["T-0003"]);
    expect(reason?.text).toContain(`was out of calibration since ${on(-2).slice(0, 10)}`);
  });

  it("was nothing between the day it was due and the next calibration, which proves nothing backwards", async () => {
    await calibrate(-100, -20);
    await calibrate(-5, 300);
    expect(await measure("T-0001", -21)).toMatchObject({ held: false });
    expect(await measure("T-0002", -10)).toMatchObject({ held: true });
    expect(await measure("T-0003", -1)).toMatchObject({ held: false });
    expect((await gaugeReasons())[0]?.serials).toEqual(["T-0002"]);
  });

  it("was nothing before its first calibration", async () => {
    await calibrate(-5, 300);
    expect(await measure("T-0001", -6)).toMatchObject({ held: true });
    const reasons = (await gaugeReasons()).map(({ text }) => text).join(" ");
    expect(reasons).toContain("had no calibration yet");
    expect(reasons).toContain("never zero-checked nor calibrated before");
  });
});

describe("a frame that rests on a gauge out of calibration", () => {
  it("is not released by a signature, which is no calibration, but may have a concession", async () => {
    await calibrate(-100, -20);
    await measure("T-0001", -30);
    await measure("T-0002", -10);
    const manager = await createSignIn(plant.system, `${uuidV7()}@plant.example`, "supplier_manager");
    const decide = async (serial: string, disposition: "release" | "concession") => {
      const { id: batchId, version: batchVersion } = await getBatch(manager, TEST_BATCH);
      const expiresAt = disposition === "concession" ? { expiresAt: on(30) } : {};
      const signed = { grounds: "looked at it", password: PASSWORD, ...expiresAt };
      return decideFrames(manager, { id: uuidV7(), batchId, batchVersion, serials: [serial], disposition, ...signed });
    };
    await expect(decide("T-0002", "release")).rejects.toMatchObject({
      code: "refused",
      userMessage: expect.stringMatching(/^Gauge BG-1 was out of calibration since .*proves nothing for a release/),
    });
    expect((await frame("T-0002")).state).toBe("held");
    await decide("T-0001", "release");
    await decide("T-0002", "concession");
    expect((await frame("T-0002")).state).toBe("on_concession");
    expect(await gaugeReasons()).toEqual([]);
  });
});

describe("a calibration that is entered later", () => {
  it("with a due date corrected to an earlier day holds what was measured after it, shipped frames are escapes", async () => {
    await calibrate(-100, 265);
    for (const [serial, day] of [
      ["T-0001", -50],
      ["T-0002", -1],
      ["T-0003", -1],
      ["T-0004", -60],
      ["T-0005", -60],
      ["T-0006", -60],
    ] as const)
      await measure(serial, day);
    const dock = await plant.as("dock");
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0003" })).toMatchObject({ answer: "shipped" });

    expect(await calibrate(-100, -10)).toMatchObject({ held: 1, escapes: 1 });
    expect(await frame("T-0001")).toMatchObject({ state: "measured", escapes: 0 });
    expect(await frame("T-0002")).toMatchObject({ state: "held", escapes: 0 });
    expect(await frame("T-0003")).toMatchObject({ state: "shipped", escapes: 1 });
    expect((await gaugeReasons())[0]?.serials).toEqual(["T-0002"]);
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0002" })).toMatchObject({ answer: "refused" });

    expect(await calibrate(-100, 30)).toMatchObject({ held: 0, escapes: 0 });
    expect(await frame("T-0002")).toMatchObject({ state: "measured" });
    expect(await gaugeReasons()).toEqual([]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    const { rows } = await getPool().query(sql`select payload from journal_entry
      where plant_id = ${plant.plantId} and action = 'calibration.added' order by sequence`);
    expect(rows.map(({ payload }) => payload.heldSerials)).toEqual([[], ["T-0002"], []]);
  });

  it("does not free a frame that something else is against, nor one of before its day", async () => {
    await calibrate(-100, -20);
    await measure("T-0001", -10);
    await recordInspection(plant.system, {
      ...plant.inspection("T-0002"),
      gauges: boresBy(plant.names, "BG-1"),
      deviceTime: on(-1),
      readings: plant.inspection("T-0002").readings.map((value) => (value === 40.975 ? 40.9 : value)),
    });
    await measure("T-0003", -1);
    await calibrate(-5, 300);
    expect((await frame("T-0001")).state).toBe("held");
    expect((await frame("T-0002")).state).toBe("held");
    expect((await frame("T-0003")).state).toBe("measured");
  });

  it("holds a frame, whichever of both comes first", async () => {
    await calibrate(-100, 265);
    const serials = ["T-0001", "T-0002", "T-0003", "T-0004", "T-0005", "T-0006"];
    for (const [round, serial] of serials.entries())
      await Promise.all([measure(serial, 0), calibrate(-50 + round, round % 2 === 0 ? -1 : 200)]);
    const states = await Promise.all(serials.map(async (serial) => (await frame(serial)).state));
    // The newest calibration, of the sixth round, is in force today; those of the others are superseded by it.
    expect(states).toEqual(serials.map(() => "measured"));
    await calibrate(-40, -1);
    expect(await Promise.all(serials.map(async (serial) => (await frame(serial)).state))).toEqual(
      serials.map(() => "held"),
    );
  });
});

describe("the Line's package and the server", () => {
  it("say the same of every day: when a reading is sent, in the batch, and on a device without the network", async () => {
    await calibrate(-100, -60);
    await calibrate(-50, 100);
    await calibrate(-30, -20);
    await calibrate(-10, -8);
    await calibrate(-10, -3);
    const kit = await getStationPackage(engineer, plant.stationId);
    const gauge = kit.gauges.find(({ key }) => key === "BG-1");
    if (!gauge) throw new Error("the package has no gauge BG-1");
    // By hand, day by day: in calibration from -100 to -60, -50 to -30 and on to -20, -10 to -3.
    const expected = new Map([
      [-101, true],
      [-70, false],
      [-55, true],
      [-40, false],
      [-25, false],
      [-15, true],
      [-9, false],
      [-5, false],
      [-2, true],
      [0, true],
    ]);
    for (const [day, overdue] of expected) {
      const ms = today + day * DAY_MS;
      expect([day, isOverdue(gauge, ms)]).toEqual([day, overdue]);
      expect([day, !isCalibrated(gauge.calibrations ?? [], ms)]).toEqual([day, overdue]);
      const recorded = await recordInspection(plant.system, {
        ...plant.inspection("T-0001"),
        gauges: boresBy(plant.names, "BG-1"),
        deviceTime: new Date(ms).toISOString(),
        reason: "for the comparison",
      });
      expect([day, recorded.warnings.some((text) => text.includes("out of calibration"))]).toEqual([day, overdue]);
      const { id } = await frame("T-0001");
      const inDatabase = await inSqlTransaction(async (db) => {
        const found = await isMeasuredOverdue(db, plant.plantId, [id]);
        await db.query(sql`insert into inspection_withdrawal (plant_id, inspection_id, person_id, reason)
          values (${plant.plantId}, ${recorded.id}, ${engineer.personId}, 'for the comparison')`);
        return found.has(id);
      });
      expect([day, inDatabase]).toEqual([day, overdue]);
    }
    expect(gauge).toMatchObject({ overdue: true, calibratedUntil: on(-3) });
  });
});
