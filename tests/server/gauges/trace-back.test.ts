import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { GET as getCsv } from "@/app/gauges/trace/csv/route";
import { GET } from "@/app/api/v1/trace/route";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { changeGauge, createGauge, createSettingRing } from "@/lib/server/gauges/change-gauges";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { getGaugePage, listStandingGauges } from "@/lib/server/gauges/gauge-standing";
import { listTraceChoices, traceBack } from "@/lib/server/gauges/trace-back";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { shipFrame } from "@/lib/server/shipments/ship-frame";
import { createToken } from "@/lib/server/tokens/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { boresBy, createTestPlant, type TestPlant } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
let plant: TestPlant;
let reader = "";
const hour = (n: number) => new Date(Date.now() - (10 - n) * 3_600_000);

// T-0001 and T-0002 by BG-7 (T-0002 ships), T-0003 by another gauge, T-0004 by BG-7 before anything.
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 4 });
  reader = (await createToken(await plant.as("administrator"), { name: "reads", scopes: ["results:read"] })).token;
  await createSettingRing(plant.system, { key: "RG-7", certifiedSizeMm: 41, uncertaintyUm: 0.5 });
  await createGauge(plant.system, {
    key: "BG-7",
    name: "another",
    kind: "bore",
    principle: "two-point",
    resolutionUm: 1,
    rangeLower: 35,
    rangeUpper: 46,
    ring: "RG-7",
    calibratedAt: "2020-01-01T00:00:00Z",
    calibratedUntil: "2029-12-31T00:00:00Z",
  });
  const check = (readingMm: number, at: Date) =>
    recordZeroCheck(plant.system, {
      id: uuidV7(at.getTime()),
      gauge: "BG-7",
      readingMm,
      occasion: "other",
      at: at.toISOString(),
    });
  const measure = (serial: string, at: Date, gauges?: string[]) =>
    recordInspection(plant.system, {
      ...plant.inspection(serial),
      deviceTime: at.toISOString(),
      ...(gauges === undefined ? {} : { gauges }),
    });
  const bg7 = boresBy(plant.names, "BG-7");
  await measure("T-0004", hour(1), bg7);
  await check(41, hour(2));
  await measure("T-0001", hour(3), bg7);
  await measure("T-0002", hour(4), bg7);
  await measure("T-0003", hour(4));
  const shipped = await shipFrame(await plant.as("dock"), { id: uuidV7(), serial: "T-0002" });
  expect(shipped.answer).toBe("shipped");
  await check(41 - 0.015, hour(6));
});
afterAll(async () => database.drop());

const serials = (trace: { list: readonly { serial: string }[] }) => trace.list.map(({ serial }) => serial);

describe("a gauge that failed its check by 15 µm", () => {
  it("is in doubt, whatever its row says, and its page shows the checks with their limit", async () => {
    const viewer = await plant.as("auditor");
    const gauge = (await listStandingGauges(viewer)).find(({ key }) => key === "BG-7");
    expect(gauge).toMatchObject({
      state: "in-doubt",
      inUse: true,
      reasons: [{ code: "zero-failed", zeroErrorUm: -15 }],
    });
    const page = await getGaugePage(viewer, "BG-7");
    // By hand: repeatability unknown, so 3 µm.
    expect([page.limitUm, page.checks.map(({ driftUm }) => Math.round(driftUm))]).toEqual([3, [0, -15]]);
    expect(page.doubts).toHaveLength(1);
    await expect(getGaugePage(viewer, "BG-none")).rejects.toMatchObject({ code: "not-found" });
  });
});

describe("traceBack", () => {
  it("finds what rests on a gauge, the shipped frame first with its open escape", async () => {
    const trace = await traceBack(await plant.as("auditor"), { of: "gauge", key: "BG-7" });
    expect(serials(trace)).toEqual(["T-0002", "T-0001", "T-0004"]);
    expect(trace).toMatchObject({ frames: 3, shipped: 1, openEscapes: 1, name: "BG-7, another" });
    expect(trace.list[0]).toMatchObject({ openEscape: true, inspections: 1 });
    expect(trace.batches).toMatchObject([{ frames: 3, shipped: 1 }]);
  });

  it("keeps to its stretch, and finds by ring, plan, drawing and device", async () => {
    const viewer = await plant.as("auditor");
    const between = await traceBack(viewer, {
      of: "gauge",
      key: "BG-7",
      from: hour(2).toISOString(),
      to: hour(3.5).toISOString(),
    });
    expect(serials(between)).toEqual(["T-0001"]);
    // T-0004 was measured before the gauge had been shown the ring.
    expect(serials(await traceBack(viewer, { of: "ring", key: "RG-7" }))).toEqual(["T-0002", "T-0001"]);
    const choices = await listTraceChoices(viewer);
    for (const of of ["plan", "drawing"] as const) {
      const counts = await Promise.all(
        choices.filter((one) => one.of === of).map(async (one) => (await traceBack(viewer, one)).frames),
      );
      expect(counts.reduce((sum, each) => sum + each, 0)).toBe(4);
    }
    const inspectors = choices.filter(({ of }) => of === "inspector");
    expect(inspectors.length).toBeGreaterThan(0);
  });

  it("refuses in words what there is not, and a stretch that ends before it begins", async () => {
    const viewer = await plant.as("auditor");
    for (const of of ["gauge", "inspector", "drawing"] as const)
      await expect(traceBack(viewer, { of, key: "nobody" })).rejects.toMatchObject({ code: "not-found" });
    await expect(
      traceBack(viewer, { of: "gauge", key: "BG-7", from: "2026-06-05", to: "2026-06-04" }),
    ).rejects.toMatchObject({ code: "invalid-input" });
    await expect(traceBack(await plant.as("dock"), { of: "gauge", key: "BG-7" })).rejects.toMatchObject({
      code: "forbidden",
    });
  });

  it("answers programs, and gives every frame as CSV", async () => {
    const ask = (handler: typeof GET, query: string) =>
      handler(
        new Request(`http://localhost:3000/api/v1/trace?${query}`, { headers: { authorization: `Bearer ${reader}` } }),
        { params: Promise.resolve({}) },
      );
    const answer = await (await ask(GET, "of=gauge&key=BG-7")).json();
    expect(answer).toMatchObject({ frames: 3, shipped: 1 });
    expect((await ask(GET, "of=person&key=BG-7")).status).toBe(400);
    expect((await ask(GET, "of=gauge&key=BG-7&from=yesterday")).status).toBe(400);
    const csv = await (await ask(getCsv, "of=gauge&key=BG-7")).text();
    expect(csv.trim().split("\n")).toHaveLength(4);
    expect(csv).toMatch(/serial,batch/);
  });

  it("calls a gauge that was taken out of use retired", async () => {
    const { rows } = await getPool().query<{ version: number }>(
      sql`select version from gauge where plant_id = ${plant.plantId} and key = 'BG-7'`,
    );
    await changeGauge(plant.system, {
      key: "BG-7",
      name: "another",
      resolutionUm: 1,
      ring: "RG-7",
      version: rows[0]?.version ?? 0,
      inUse: false,
    });
    const gauges = await listStandingGauges(await plant.as("engineer"));
    expect(gauges.find(({ key }) => key === "BG-7")?.state).toBe("retired");
  });
});
