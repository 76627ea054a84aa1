import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createSignIn, PASSWORD, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { boresBy, createTestPlant, type TestPlant } from "@/tests/helpers/plant";
import { changeGaugeSchema } from "@/lib/schemas/gauge";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { decideFrames } from "@/lib/server/gate/commands";
import { getBatch } from "@/lib/server/gate/queries";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { getStationPackage, listStations } from "@/lib/server/line/queries";
import { createPerson, giveSignIn } from "@/lib/server/people/commands";
import { listPeople } from "@/lib/server/people/queries";
import { changeGauge, changeSettingRing } from "@/lib/server/gauges/change-gauges";
import { changeNamedPart, changeOperation, changePlant, changeStation } from "@/lib/server/plant/change-parts";
import { createBatch } from "@/lib/server/batches/commands";
import { createStation } from "@/lib/server/plant/create-parts";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { getPlant, getSetupOverview, listOperations } from "@/lib/server/plant/queries";
import { listGauges, listRings } from "@/lib/server/gauges/register";

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let inspector: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant();
  engineer = await plant.as("engineer");
  inspector = await plant.as("inspector");
});
afterAll(() => database.drop());

const entries = async (action: string) =>
  (
    await database.pool.query("select payload from journal_entry where action = $1 order by sequence", [action])
  ).rows.map((row) => row.payload);

/** Of all parts of the plant, the versions that a person who looks now sees. */
async function seen() {
  const { lines, suppliers, models } = await getSetupOverview(engineer);
  const parts = [...lines, ...lines.flatMap((line) => line.stations), ...suppliers, ...models];
  const all = [...parts, ...(await listOperations(engineer)), ...(await listGauges(engineer))];
  const versions = [...all, ...(await listRings(engineer))].map(({ key, version }) => [key, version] as const);
  const of = new Map<string, number>(versions);
  return (key: string): number => of.get(key) ?? 0;
}

async function putLine(inUse: boolean): Promise<void> {
  const version = (await seen())("L1");
  await changeNamedPart(engineer, { part: "line", key: "L1", version, name: "Line", inUse });
}

async function putStation(inUse: boolean): Promise<void> {
  const version = (await seen())("S1");
  await changeStation(engineer, { key: "S1", version, name: "Bench 1", viewingSide: "ds", inUse });
}

describe("parts of the plant", () => {
  it("are named anew under the key they had, with what they were and are in the journal", async () => {
    const version = 0;
    await changeNamedPart(engineer, { part: "line", key: "L1", version, name: "Alloy line", inUse: true });
    await changeOperation(engineer, { key: "machined", version, name: "after reaming", position: 2 });
    await changeStation(engineer, { key: "S1", version, name: "Bench 1", viewingSide: "nds", inUse: true });
    await changePlant(engineer, { version, name: "Harrowmere", timeZone: "Europe/Lisbon" });
    const { lines } = await getSetupOverview(engineer);
    const station = { key: "S1", name: "Bench 1", viewingSide: "nds", inUse: true, version: 1 };
    expect(lines).toMatchObject([{ key: "L1", name: "Alloy line", version: 1, stations: [station] }]);
    expect(await listOperations(engineer)).toEqual([
      { key: "machined", name: "after reaming", position: 2, version: 1 },
    ]);
    expect(await getPlant(engineer)).toMatchObject({ name: "Harrowmere", timeZone: "Europe/Lisbon" });
    expect(await entries("line.changed")).toEqual([
      { key: "L1", before: { name: "Line 1" }, after: { name: "Alloy line" } },
    ]);
    expect(await entries("plant.changed")).toEqual([
      { before: { name: "Test plant", timeZone: "UTC" }, after: { name: "Harrowmere", timeZone: "Europe/Lisbon" } },
    ]);
  });

  it("are not overwritten by who saw them before somebody else changed them, and nothing is written where nothing differs", async () => {
    const line = { part: "line", key: "L1", name: "Line", inUse: true } as const;
    await expect(changeNamedPart(engineer, { ...line, version: 0 })).rejects.toMatchObject({
      code: "conflict",
      message: expect.stringContaining("line L1 was changed by somebody else meanwhile. Nothing was changed"),
    });
    await changeNamedPart(engineer, { ...line, name: "Alloy line", version: 1 });
    expect((await getSetupOverview(engineer)).lines[0]).toMatchObject({ name: "Alloy line", version: 1 });
    expect(await entries("line.changed")).toHaveLength(1);
  });

  it("take no new batch, station or gauge while they are out of use, and come back", async () => {
    const batch = { key: "B1", supplier: "SUP", model: "M1", line: "L1", plan: "P1", serials: [{ serial: "X-1" }] };
    const parts = [
      { part: "supplier", key: "SUP", name: "Supplier", field: "supplier" },
      { part: "frame_model", key: "M1", name: "Model", field: "model" },
      { part: "line", key: "L1", name: "Line", field: "line" },
    ] as const;
    for (const { field, ...part } of parts) {
      await changeNamedPart(engineer, { ...part, version: (await seen())(part.key), inUse: false });
      await expect(createBatch(engineer, batch)).rejects.toMatchObject({
        code: "refused",
        fields: [{ path: field, message: "is out of use" }],
      });
      if (part.part === "line") {
        const station = { key: "S9", name: "S", line: "L1", operation: "machined", viewingSide: "ds" } as const;
        await expect(createStation(engineer, station)).rejects.toMatchObject({ fields: [{ path: "line" }] });
        expect(await listStations(engineer)).toEqual([]);
      }
      await changeNamedPart(engineer, { ...part, version: (await seen())(part.key), inUse: true });
    }
    await putStation(false);
    const gauge = { key: "G9", name: "g", kind: "bore", principle: "two-point", resolutionUm: 1 } as const;
    await expect(createGauge(engineer, { ...gauge, station: "S1" })).rejects.toMatchObject({
      fields: [{ path: "station", message: "is out of use" }],
    });
    await putStation(true);
    await createBatch(engineer, batch);
  });

  it("are changed by engineers only, and only where they are there", async () => {
    const line = { part: "line", key: "L1", version: 3, name: "Mine", inUse: false } as const;
    await expect(changeNamedPart(inspector, line)).rejects.toMatchObject({ code: "forbidden" });
    await expect(changeNamedPart(engineer, { ...line, key: "L9" })).rejects.toMatchObject({ code: "not-found" });
    expect((await getSetupOverview(engineer)).lines[0]).toMatchObject({ name: "Line", inUse: true });
  });
});

describe("what was measured and signed", () => {
  it("stays as it was under the old names, and the journal holds", async () => {
    const fresh = await createTestPlant({ frames: 1 });
    const boss = await fresh.as("engineer");
    const manager = await createSignIn(fresh.system, "manager@plant.example", "supplier_manager");
    await recordInspection(fresh.system, fresh.inspection("T-0001", { "DS 2 12:00": 40.9 }));
    const { id: batchId, version: batchVersion } = await getBatch(manager, "T-BATCH");
    await decideFrames(manager, {
      id: uuidV7(),
      batchId,
      batchVersion,
      serials: ["T-0001"],
      disposition: "scrap",
      grounds: "bore below its limit",
      password: PASSWORD,
    });
    const rows = async () => {
      const tables = ["inspection", "frame", "batch", "decision"] as const;
      const all = tables.map((table) =>
        database.pool.query(`select to_jsonb(t) as row from ${table} t where plant_id = $1 order by 1`, [
          fresh.plantId,
        ]),
      );
      return (await Promise.all(all)).map((result) => result.rows);
    };
    const before = await rows();
    const named = { version: 0, name: "Renamed", inUse: false };
    await changeNamedPart(boss, { ...named, part: "line", key: "L1" });
    await changeNamedPart(boss, { ...named, part: "supplier", key: "SUP" });
    await changeNamedPart(boss, { ...named, part: "frame_model", key: "M1" });
    await changeStation(boss, { ...named, key: "S1", viewingSide: "nds" });
    expect(await rows()).toEqual(before);
    expect((await verifyJournal(fresh.plantId)).faults).toEqual([]);
    expect((await getFrameRecord(await fresh.as("auditor"), "T-0001")).inspections).toHaveLength(1);
  });
});

describe("a station out of use", () => {
  it("has no package and takes nothing, with its line too, and says what to do; put back, it takes what waited", async () => {
    const waiting = plant.inspection("T-0001");
    for (const put of [putStation, putLine]) {
      await put(false);
      expect(await listStations(engineer)).toEqual([]);
      await expect(getStationPackage(engineer, plant.stationId)).rejects.toMatchObject({
        code: "refused",
        message: expect.stringMatching(/^Bench 1 is out of use\. What this device has stays on it/),
      });
      await expect(recordInspection(plant.system, waiting)).rejects.toMatchObject({
        code: "refused",
        message: expect.stringMatching(/S1 is out of use. Nothing was stored.*put it back into use/),
      });
      await put(true);
    }
    await expect(recordInspection(plant.system, waiting)).resolves.toMatchObject({ status: "recorded" });
    await expect(getStationPackage(engineer, uuidV7())).rejects.toMatchObject({ code: "not-found" });
  });
});

describe("gauges and rings", () => {
  const gauge = { key: "BG-1", name: "Bore gauge, blue", resolutionUm: 0.5, station: "S1", ring: "R1", inUse: true };
  const ring = { key: "R1", certifiedSizeMm: 41.0025, uncertaintyUm: 0.6, inUse: true };
  const day = (days: number) => new Date(Date.now() + days * 86_400_000).toISOString();
  const now = async (key: string) => (await seen())(key);

  it("change what a newer certificate or another place says, and leave Line when they are out of use", async () => {
    await createSettingRing(engineer, { key: "R1", certifiedSizeMm: 41.002, uncertaintyUm: 0.8 });
    await createGauge(engineer, {
      key: "BG-1",
      name: "Bore gauge",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
    });
    await changeGauge(engineer, { ...gauge, version: 0 });
    await changeSettingRing(engineer, { ...ring, version: 0 });
    expect((await listGauges(engineer)).filter(({ key }) => key === "BG-1")).toMatchObject([
      { key: "BG-1", name: "Bore gauge, blue", resolutionUm: 0.5, station: "S1", ring: "R1", ringMm: 41.0025 },
    ]);
    expect(await listRings(engineer)).toEqual([{ ...ring, version: 1 }]);
    const offered = async () => (await getStationPackage(engineer, plant.stationId)).gauges.map(({ key }) => key);
    expect(await offered()).toContain("BG-1");
    await changeGauge(engineer, { ...gauge, version: 1, inUse: false });
    expect(await offered()).not.toContain("BG-1");
    expect(await entries("gauge.changed")).toEqual([
      {
        key: "BG-1",
        before: { name: "Bore gauge", resolutionUm: 1, station: null, ring: null },
        after: { name: "Bore gauge, blue", resolutionUm: 0.5, station: "S1", ring: "R1" },
      },
      { key: "BG-1", before: { inUse: true }, after: { inUse: false } },
    ]);
    await expect(changeGauge(inspector, { ...gauge, version: 2 })).rejects.toMatchObject({ code: "forbidden" });
  });

  it("gain a range and a repeatability, and keep both where a caller does not know of them", async () => {
    await createGauge(engineer, {
      key: "BG-9",
      name: "Old",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
    });
    const item = async () => (await listGauges(engineer)).find(({ key }) => key === "BG-9");
    expect(await item()).toMatchObject({ rangeLower: null, rangeUpper: null, repeatabilityUm: null });
    const old = { key: "BG-9", name: "Old", resolutionUm: 1, inUse: true };
    await changeGauge(engineer, { ...old, version: 0, rangeLower: 40, rangeUpper: 42, repeatabilityUm: 0.8 });
    await changeGauge(engineer, { ...old, version: 1, name: "Older" });
    expect(await item()).toMatchObject({ name: "Older", rangeLower: 40, rangeUpper: 42, repeatabilityUm: 0.8 });
    await expect(changeGauge(engineer, { ...old, version: 1, rangeLower: 41 })).rejects.toMatchObject({
      code: "conflict",
    });
    await changeGauge(engineer, { ...old, name: "Older", version: 2, rangeLower: null, rangeUpper: null });
    expect((await entries("gauge.changed")).filter(({ key }) => key === "BG-9")).toMatchObject([
      {
        before: { rangeLower: null, rangeUpper: null },
        after: { rangeLower: 40, rangeUpper: 42, repeatabilityUm: 0.8 },
      },
      { after: { name: "Older" } },
      { before: { rangeLower: 40, rangeUpper: 42 }, after: { rangeLower: null, rangeUpper: null } },
    ]);
    expect(changeGaugeSchema.safeParse({ ...old, version: 0, rangeLower: 42, rangeUpper: 40 }).success).toBe(false);
    expect(changeGaugeSchema.safeParse({ ...old, version: 0, rangeLower: 42 }).success).toBe(false);
  });

  it("take the calibration that is found while they are away, and the readings that a device still had", async () => {
    await addCalibration(engineer, { gauge: "BG-1", at: day(-9), dueAt: day(100), biasUm: null, certificate: "" });
    const late = { ...plant.inspection("T-0002"), gauges: boresBy(plant.names, "BG-1") };
    await expect(recordInspection(plant.system, late)).resolves.toMatchObject({
      status: "recorded",
      verdict: "conforms",
      held: false,
      warnings: [expect.stringContaining("Gauge BG-1 is out of use: its readings are taken")],
    });
  });

  it("are kept where they are while that is out of use, and put nowhere that is", async () => {
    await putStation(false);
    await changeSettingRing(engineer, { ...ring, version: await now("R1"), inUse: false });
    await changeGauge(engineer, { ...gauge, version: await now("BG-1"), name: "Bore gauge, old" });
    const { station: _station, ring: _ring, ...nowhere } = gauge;
    await changeGauge(engineer, { ...nowhere, version: await now("BG-1") });
    await expect(changeGauge(engineer, { ...gauge, version: await now("BG-1") })).rejects.toMatchObject({
      code: "refused",
      fields: [{ path: "station", message: "is out of use" }],
    });
    await expect(changeGauge(engineer, { ...nowhere, ring: "R1", version: await now("BG-1") })).rejects.toMatchObject({
      code: "refused",
      fields: [{ path: "ring", message: "is out of use" }],
    });
    await putStation(true);
    await changeSettingRing(engineer, { ...ring, version: await now("R1") });
  });

  it("a zero check that a device still had counts against the ring that was shown, not the one the gauge got since", async () => {
    await createSettingRing(engineer, { key: "R2", certifiedSizeMm: 46.001, uncertaintyUm: 0.8 });
    await changeGauge(engineer, { ...gauge, version: await now("BG-1"), ring: "R2" });
    const check = { id: uuidV7(), gauge: "BG-1", readingMm: 41.0035, occasion: "other" } as const;
    await expect(recordZeroCheck(plant.system, { ...check, ring: "R1" })).resolves.toMatchObject({
      ring: "R1",
      certifiedMm: 41.0025,
      driftUm: 1,
      passed: true,
    });
    await expect(recordZeroCheck(plant.system, { ...check, id: uuidV7(), ring: "R7" })).rejects.toMatchObject({
      code: "not-found",
    });
    await expect(recordZeroCheck(plant.system, { ...check, id: uuidV7() })).rejects.toMatchObject({
      code: "invalid-input",
      message: expect.stringContaining("ring R2"),
    });
  });
});

describe("a sign-in for who had a badge only", () => {
  it("is given once, with an e-mail that nobody has", async () => {
    const boss = await createSignIn(plant.system, "boss@plant.example", "administrator");
    const { personId } = await createPerson(boss, { name: "Tavin", roles: ["inspector"], badgeCode: "B-1" });
    const give = (email: string) => giveSignIn(boss, { personId, email, password: PASSWORD });
    await expect(give("boss@plant.example")).rejects.toMatchObject({ code: "conflict", fields: [{ path: "email" }] });
    await give("tavin@plant.example");
    expect((await listPeople(boss)).find((one) => one.personId === personId)?.email).toBe("tavin@plant.example");
    await expect(give("other@plant.example")).rejects.toMatchObject({ code: "refused" });
    await expect(giveSignIn(engineer, { personId, email: "x@y.example", password: PASSWORD })).rejects.toMatchObject({
      code: "forbidden",
    });
  });
});
