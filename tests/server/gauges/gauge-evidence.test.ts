import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { getStream } from "@/lib/server/drift/queries";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { getStationPackage } from "@/lib/server/line/queries";
import { changeGauge } from "@/lib/server/gauges/change-gauges";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { boresBy, createTestPlant, TEST_GAUGES, testGauges, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 6 });
});

const CALIBRATED = { calibratedAt: "2020-01-01T00:00:00Z", calibratedUntil: "2029-12-31T00:00:00Z" };
const BORE = { kind: "bore", principle: "two-point", resolutionUm: 1, name: "another" } as const;

const send = (change: Partial<RecordInspection>, serial = "T-0001") =>
  recordInspection(plant.system, { ...plant.inspection(serial), ...change });

/** An inspection with one bore off the scale. */
function offScale(serial: string, side: "large" | "small", gauges?: readonly string[]): RecordInspection {
  const label = "ds.bore.2@12-6";
  const input = plant.inspection(serial, { [label]: null });
  const at = plant.names.map(formatReadingName).indexOf(label);
  const states = plant.names.map((_, index) => (index === at ? (`off-scale-${side}` as const) : ("measured" as const)));
  return { ...input, states, ...(gauges === undefined ? {} : { gauges: [...gauges] }) };
}

const featuresOf = async (id: string) => {
  const { rows } = await getPool().query<{ features: (number | null)[] }>(
    sql`select features from inspection where plant_id = ${plant.plantId} and id = ${id}`,
  );
  return new Map(FEATURE_NAMES.map((name, place) => [name, rows[0]?.features[place] ?? null]));
};

// By hand: what no gauge can have said proves nothing.
describe("evidence", () => {
  it("without a gauge is recorded and proves nothing, neither that a frame is good nor that it is bad", async () => {
    for (const [serial, change] of [
      ["T-0001", {}],
      ["T-0002", { "ds.bore.2@12-6": 41.05 }],
    ] as const) {
      const { gauges: _gauges, ...input } = plant.inspection(serial, change);
      const outcome = await recordInspection(plant.system, input);
      expect(outcome).toMatchObject({ status: "recorded", verdict: "not proven", held: true, batchHeld: true });
      expect(outcome.doubts).toEqual(["no gauge named"]);
      expect(new Set(outcome.reasons.map(({ code }) => code))).toEqual(new Set(["no-gauge"]));
    }
    const { judgement } = await getFrameRecord(await plant.as("auditor"), "T-0001");
    expect(judgement?.characteristics.every(({ reason }) => reason === "no gauge named")).toBe(true);
  });

  it("of which one reading names no gauge leaves that characteristic unproven, and no other", async () => {
    const gauges = testGauges(plant.names).map((key, at) => (plant.names[at]?.kind === "width" ? null : key));
    const outcome = await send({ gauges });
    expect(outcome).toMatchObject({ verdict: "not proven", held: true });
    expect(outcome.reasons.map(({ name, reason }) => [name, reason])).toEqual([["width", "no gauge named"]]);
  });

  it("is judged again as soon as somebody enters what its gauge reaches, and once more when that was wrong", async () => {
    await createGauge(plant.system, { ...BORE, ...CALIBRATED, key: "BG-7" });
    const by = { gauges: boresBy(plant.names, "BG-7") };
    expect(await send(by)).toMatchObject({ frameVerdict: "conforms", held: false });
    await send(by, "T-0002");
    for (const other of ["T-0003", "T-0004", "T-0005", "T-0006"]) await send({}, other);
    await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0002" });
    const enter = async (rangeUpper: number) => {
      const { rows } = await getPool().query<{ version: number }>(
        sql`select version from gauge where plant_id = ${plant.plantId} and key = 'BG-7'`,
      );
      const { key, name, resolutionUm } = { ...BORE, key: "BG-7" };
      const version = rows[0]?.version ?? 0;
      await changeGauge(plant.system, { key, name, resolutionUm, version, inUse: true, rangeLower: 40, rangeUpper });
    };
    const frames = async () =>
      (
        await getPool().query<{ serial: string; state: string; verdict: string }>(sql`
          select serial, state::text as state, verdict from frame
          where plant_id = ${plant.plantId} and serial < 'T-0004' order by serial`)
      ).rows;
    const escapes = async () =>
      (await getPool().query(sql`select 1 from escape where plant_id = ${plant.plantId} and closed_at is null`))
        .rowCount;
    // Press-fit 41 (invented): bores to 41.00 mm.
    await enter(40.99);
    expect(await frames()).toEqual([
      { serial: "T-0001", state: "held", verdict: "not proven" },
      { serial: "T-0002", state: "shipped", verdict: "not proven" },
      { serial: "T-0003", state: "measured", verdict: "conforms" },
    ]);
    expect(await escapes()).toBe(1);
    await enter(42);
    expect(await frames()).toMatchObject([
      { state: "measured", verdict: "conforms" },
      { state: "shipped", verdict: "conforms" },
      { state: "measured", verdict: "conforms" },
    ]);
    const { rows } = await getPool().query<{ payload: { heldSerials: string[]; judged: number } }>(sql`
      select payload from journal_entry where plant_id = ${plant.plantId} and action = 'gauge.judged-again' order by sequence`);
    expect(rows.map(({ payload }) => [payload.judged, payload.heldSerials])).toEqual([
      [2, ["T-0001"]],
      [2, []],
    ]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("by a gauge whose principle cannot measure that feature proves nothing, in words", async () => {
    const outcome = await send({ gauges: boresBy(plant.names, TEST_GAUGES.sweep) });
    expect(outcome).toMatchObject({ verdict: "not proven", held: true });
    expect(outcome.doubts).toContain(`gauge ${TEST_GAUGES.sweep} (indicator) cannot measure a bore`);
    expect(outcome.reasons.map(({ name }) => name)).toContain("bore");
    const lump = await send({ gauges: TEST_GAUGES.bore }, "T-0002");
    expect(lump.doubts).toContain(`gauge ${TEST_GAUGES.bore} (two-point) cannot measure a sweep`);
    // An indicator serves sweeps and faces alike.
    const faces = testGauges(plant.names).map((key) => (key === TEST_GAUGES.face ? TEST_GAUGES.sweep : key));
    expect(await send({ gauges: faces }, "T-0003")).toMatchObject({ verdict: "conforms" });
  });

  it("by a gauge whose range does not reach the limits proves nothing", async () => {
    await createGauge(plant.system, { ...BORE, key: "BG-S", rangeLower: 35, rangeUpper: 40.98, ...CALIBRATED });
    const outcome = await send({ gauges: boresBy(plant.names, "BG-S") });
    expect(outcome).toMatchObject({ verdict: "not proven", held: true });
    expect(outcome.doubts[0]).toMatch(
      /^gauge BG-S measures 35 to 40\.98 mm and does not reach the limits 40\.950 to 41\.000 mm/,
    );
  });

  it("by a comparator that was neither checked nor calibrated proves nothing, until a check that came before is known", async () => {
    await createSettingRing(plant.system, { key: "R41", certifiedSizeMm: 41, uncertaintyUm: 0.75 });
    await createGauge(plant.system, { ...BORE, key: "BG-N", ring: "R41" });
    const outcome = await send({ gauges: boresBy(plant.names, "BG-N") });
    expect(outcome).toMatchObject({ verdict: "not proven", held: true });
    expect(outcome.doubts).toEqual(["gauge BG-N was never zero-checked nor calibrated before"]);
    const hourAgo = new Date(Date.now() - 3_600_000).toISOString();
    const inspector = await plant.as("inspector");
    await recordZeroCheck(inspector, {
      id: uuidV7(),
      gauge: "BG-N",
      readingMm: 41,
      occasion: "shift start",
      at: hourAgo,
    });
    const { judgement } = await getFrameRecord(await plant.as("auditor"), "T-0001");
    expect(judgement?.verdict).toBe("conforms");
    // Its calibration is still missing: that holds the frame by itself.
    const engineer = await plant.as("engineer");
    const day = { at: hourAgo, dueAt: "2029-12-31T00:00:00Z", biasUm: null, certificate: "" };
    await addCalibration(engineer, { gauge: "BG-N", ...day });
    expect((await getFrameRecord(engineer, "T-0001")).state).toBe("measured");
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("of a needle at the end of its travel proves nothing: sweep again", async () => {
    const travel = { rangeLower: -80, rangeUpper: 80, kind: "sweep", principle: "indicator", resolutionUm: 1 } as const;
    await createGauge(plant.system, { ...travel, key: "SI-C", name: "short", ...CALIBRATED });
    const gauges = testGauges(plant.names).map((key) => (key === TEST_GAUGES.sweep ? "SI-C" : key));
    const labels = plant.names.map(formatReadingName);
    const swept = plant.names.flatMap((name, at) =>
      name.kind === "sweep" && name.depthMm === 2 ? [labels[at] ?? ""] : [],
    );
    const change = Object.fromEntries(swept.map((label) => [label, label.endsWith("@0") ? 80 : 0]));
    const outcome = await recordInspection(plant.system, { ...plant.inspection("T-0001", change), gauges });
    expect(outcome).toMatchObject({ held: true });
    expect(outcome.reasons.map(({ code }) => code)).toContain("travel-clipped");
    expect(outcome.doubts.join()).toMatch(/1 reading stands at 80 µm, the end of the indicator’s travel: sweep again/);
  });
});

describe("a bore off the scale of its gauge", () => {
  it("does not conform, without a value, holds, and is in no statistics", async () => {
    for (const [serial, side] of [
      ["T-0001", "large"],
      ["T-0002", "small"],
    ] as const) {
      const input = offScale(serial, side);
      const outcome = await recordInspection(plant.system, input);
      expect(outcome).toMatchObject({ verdict: "does not conform", held: true });
      const bore = outcome.reasons.find(({ name, seat }) => name === "bore" && seat === "ds");
      expect(bore).toMatchObject({ verdict: "does not conform", value: null, code: "off-scale", at: "ds.bore.2@12-6" });
      expect(bore?.reason).toBe(`ds.bore.2@12-6 is off the scale of its gauge, ${side}`);
      const features = await featuresOf(input.id);
      expect(features.get("ds.bore.mean")).toBeNull();
      expect(features.get("ds.ovality")).toBeNull();
      expect(features.get("nds.bore.mean")).not.toBeNull();
    }
    const record = await getFrameRecord(await plant.as("auditor"), "T-0001");
    expect(record.inspections[0]?.readings.find(({ name }) => name === "ds.bore.2@12-6")).toMatchObject({
      value: null,
      state: "off-scale-large",
    });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("is not averaged away by good readings", async () => {
    await recordInspection(plant.system, offScale("T-0001", "large"));
    const again = await recordInspection(plant.system, { ...plant.inspection("T-0001"), reason: "measured again" });
    expect(again).toMatchObject({ frameVerdict: "does not conform", held: true });
  });

  it("proves nothing where its gauge does not reach the limits", async () => {
    await createGauge(plant.system, { ...BORE, key: "BG-S", rangeLower: 35, rangeUpper: 40.98, ...CALIBRATED });
    const outcome = await recordInspection(plant.system, offScale("T-0001", "large", boresBy(plant.names, "BG-S")));
    expect(outcome.reasons.find(({ name, seat }) => name === "bore" && seat === "ds")).toMatchObject({
      verdict: "not proven",
      code: "gauge-range",
    });
    expect(outcome.held).toBe(true);
  });

  it("has no value and is a bore", async () => {
    const valued = offScale("T-0001", "large");
    const readings = plant.inspection("T-0001").readings;
    await expect(recordInspection(plant.system, { ...valued, readings })).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: expect.stringMatching(/is marked as off the scale but has the value 40\.975/),
    });
    const input = plant.inspection("T-0001", { "width@12": null });
    const states = input.readings.map((value, at) =>
      value === null && plant.names[at]?.kind === "width" ? ("off-scale-large" as const) : ("measured" as const),
    );
    await expect(recordInspection(plant.system, { ...input, states })).rejects.toMatchObject({
      userMessage: expect.stringMatching(/width@12 cannot be off the scale/),
    });
  });
});

describe("a value beyond what can be", () => {
  const confirmed = (value: number, gauges?: string[]) => {
    const input = plant.inspection("T-0001", { "ds.bore.2@12-6": value });
    const states = input.readings.map((one) => (one === value ? ("confirmed" as const) : ("measured" as const)));
    return recordInspection(plant.system, { ...input, states, ...(gauges === undefined ? {} : { gauges }) });
  };

  it("is refused whatever anybody confirms, with the likely slip", async () => {
    await expect(confirmed(975)).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: expect.stringMatching(/40\.975 mm would fit.*Nothing was stored.*off the scale/),
    });
    await createGauge(plant.system, { ...BORE, key: "BG-R", rangeLower: 40.9, rangeUpper: 41.1, ...CALIBRATED });
    await expect(confirmed(41.2, boresBy(plant.names, "BG-R"))).rejects.toMatchObject({
      userMessage: expect.stringMatching(/41\.2 mm is beyond what gauge BG-R can show, 40\.9 to 41\.1 mm/),
    });
  });

  it("that can be and was confirmed is judged, and is in no statistics", async () => {
    const outcome = await confirmed(41.3);
    expect(outcome).toMatchObject({ verdict: "does not conform", held: true });
    const features = await featuresOf(outcome.id);
    expect([features.get("ds.bore.mean"), features.get("ds.bore.largest"), features.get("ds.taper")]).toEqual([
      null,
      null,
      null,
    ]);
    expect(features.get("nds.bore.mean")).not.toBeNull();
    expect(features.get("coaxiality")).not.toBeNull();
  });
});

describe("a stream", () => {
  it("names the frames that it leaves out, and charts their other values", async () => {
    await send({}, "T-0002");
    await recordInspection(plant.system, offScale("T-0001", "large"));
    const { rows } = await getPool().query<{ id: string; feature: string }>(
      sql`select id, feature from stream where plant_id = ${plant.plantId}`,
    );
    const engineer = await plant.as("engineer");
    const pageOf = async (feature: string) =>
      getStream(engineer, rows.find((one) => one.feature === feature)?.id ?? "");
    const [left, other] = [await pageOf("ds.bore.mean"), await pageOf("nds.bore.mean")];
    expect(left.points.map(({ serial }) => serial)).toEqual(["T-0002"]);
    expect(left.leftOut.map(({ serial }) => serial)).toEqual(["T-0001"]);
    expect(other.points).toHaveLength(2);
    expect(other.leftOut).toEqual([]);
  });
});

describe("a station's package", () => {
  it("has each gauge's range and a limit of zero checks that follows from the gauge", async () => {
    await createSettingRing(plant.system, { key: "R41", certifiedSizeMm: 41, uncertaintyUm: 0.75 });
    const known = { ...BORE, key: "BG-K", ring: "R41", rangeLower: 40, rangeUpper: 42, repeatabilityUm: 0.8 };
    await createGauge(plant.system, { ...known, ...CALIBRATED });
    const kit = await getStationPackage(await plant.as("inspector"), plant.stationId);
    // By hand, GUM: 2 x sqrt(0.375^2 + (1 / sqrt 12)^2 + 0.8^2) = 1.86.
    expect(kit.gauges.find(({ key }) => key === "BG-K")).toMatchObject({
      range: { lower: 40, upper: 42 },
      zero: { limitUm: 1.86, lastGoodAt: "2020-01-01T00:00:00.000Z" },
    });
    const check = { id: uuidV7(), gauge: "BG-K", readingMm: 41.002, occasion: "shift start" } as const;
    expect(await recordZeroCheck(await plant.as("inspector"), check)).toMatchObject({ limitUm: 1.86, passed: false });
  });
});
