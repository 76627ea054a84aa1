import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { addEventAction } from "@/app/drift/events/actions";
import { uuidV7 } from "@/lib/schemas/identifier";
import { plantMoment } from "@/lib/schemas/plant-day";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { sql } from "@/lib/server/db/sql";
import { addEvent } from "@/lib/server/events/commands";
import { decideFrames } from "@/lib/server/gate/commands";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { listDevices } from "@/lib/server/line/devices";
import { reportDevice } from "@/lib/server/line/report-device";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { createSignIn, PASSWORD, setTestEnvironment } from "./auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../helpers/database";
import { createTestPlant, TEST_BATCH, type TestPlant } from "../helpers/plant";

const asking = vi.hoisted(() => ({ viewer: null as unknown }));
vi.mock("@/lib/server/auth/current-viewer", () => ({ getViewer: async () => asking.viewer }));
vi.mock("next/cache", () => ({ refresh: () => undefined }));

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
const NOW = new Date("2026-06-05T12:00:00Z");
const DAY_MS = 86_400_000;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 3, plan: "routine" });
  engineer = await plant.as("engineer");
  asking.viewer = engineer;
  await createSettingRing(plant.system, { key: "R41", certifiedSizeMm: 41, uncertaintyUm: 1 });
  await createGauge(plant.system, {
    key: "BG",
    name: "bore gauge",
    kind: "bore",
    principle: "two-point",
    resolutionUm: 1,
    ring: "R41",
  });
});
afterAll(() => database.drop());

const zeroCheck = (at: string) =>
  recordZeroCheck(engineer, { id: uuidV7(), gauge: "BG", readingMm: 41, occasion: "other", at }, NOW);
const event = (at: string) => addEvent(engineer, { id: uuidV7(), kind: "reamer changed", at, text: "R-7 fitted" }, NOW);
const calibration = (at: string) =>
  addCalibration(
    engineer,
    {
      gauge: "BG",
      at,
      dueAt: new Date(Date.parse(at) + 90 * DAY_MS).toISOString(),
      biasUm: null,
      certificate: "K-1",
    },
    NOW,
  );
const newGauge = (at: string) =>
  createGauge(
    engineer,
    {
      key: uuidV7().slice(-12),
      name: "new",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
      calibratedAt: at,
      calibratedUntil: new Date(Date.parse(at) + DAY_MS).toISOString(),
    },
    NOW,
  );

describe.each([
  ["a zero check", zeroCheck],
  ["an event", event],
  ["a calibration", calibration],
  ["the calibration of a new gauge", newGauge],
])("the time of %s", (_what, enter) => {
  it.each([
    "0000-01-01T00:00:00Z",
    "0001-06-05T12:00:00Z",
    "1999-12-31T23:59:59Z",
    "2026-06-05T12:05:01Z",
    "2027-05-01T08:00:00Z",
    "9999-12-31T00:00:00Z",
  ])("is not %s, and the words name no field", async (at) => {
    const error: unknown = await enter(at).catch((thrown: unknown) => thrown);
    expect(error).toMatchObject({
      code: "invalid-input",
      userMessage: expect.stringMatching(/^The time of the .* lies (before the year 2000|in the future)\. Nothing was/),
    });
    expect(String(error)).not.toMatch(/expiresAt|dueAt|calibratedAt/);
  });

  it("may be ahead by what a clock may be wrong", async () => {
    await enter("2026-06-05T12:04:59Z");
    await enter("2000-01-01T00:00:00Z");
  });
});

it("an event is entered by the plant's clock, whatever the browser's", async () => {
  asking.viewer = { ...engineer, plantZone: "Pacific/Auckland" };
  const form = (when: string) => ({ id: uuidV7(), kind: "other" as const, text: "cleaned", when });
  expect(await addEventAction(form("2026-03-02T09:30"))).toMatchObject({ ok: true });
  const { rows } = await database.pool.query("select at from event where text = 'cleaned'");
  // New Zealand is 13 hours ahead of UTC in March (IANA time zone database, from memory).
  expect(rows).toEqual([{ at: new Date("2026-03-01T20:30:00Z") }]);
  for (const when of ["2026-13-45T00:00", "2026-03-02T09:30Z", "tomorrow"])
    expect(await addEventAction(form(when))).toMatchObject({ ok: false, error: { code: "invalid-input" } });
  expect(plantMoment("2026-10-25T01:30", "Europe/Lisbon").toISOString()).toBe("2026-10-25T00:30:00.000Z");
});

describe("a concession to a day", () => {
  it("ends when that day does by the plant's clock", async () => {
    const signedIn = await createSignIn(plant.system, "manager@plant.example", "supplier_manager");
    const manager = { ...signedIn, plantZone: "America/New_York" };
    const { rows } = await database.pool.query<{ id: string; version: number }>(sql`
      select id, version from batch where plant_id = ${plant.plantId} and key = ${TEST_BATCH}`);
    const concede = (lastDay: string, batchVersion: number) =>
      decideFrames(
        manager,
        {
          id: uuidV7(),
          batchId: rows[0]?.id ?? "",
          serials: ["T-0001"],
          disposition: "concession",
          grounds: "used as a show frame",
          password: PASSWORD,
          lastDay,
          batchVersion,
        },
        NOW,
      );
    await expect(concede("2026-06-04", rows[0]?.version ?? 0)).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: "A concession needs an expiry date that lies ahead. Nothing was changed.",
    });
    // A year and a day of 24 hours each are 366 days; a concession is no way to forget a frame.
    await expect(concede("2027-06-08", rows[0]?.version ?? 0)).rejects.toMatchObject({
      code: "invalid-input",
      userMessage: expect.stringContaining("ends within 366 days"),
    });
    await concede("2026-06-05", rows[0]?.version ?? 0);
    const after = await database.pool.query("select concession_until as until from frame where serial = 'T-0001'");
    // New York is 4 hours behind UTC in June (IANA time zone database, from memory): 24:00 is 04:00 UTC of the next day.
    expect(after.rows).toEqual([{ until: new Date("2026-06-06T03:59:59.999Z") }]);
  });
});

it("a device whose clock is out of this world is listed all the same", async () => {
  const said = { waiting: 1, refused: 0, oldestAt: Number.MAX_SAFE_INTEGER, clockSkewMs: -Number.MAX_SAFE_INTEGER };
  await reportDevice(engineer, { deviceId: "dev-odd", stationId: plant.stationId, ...said });
  expect(await listDevices(engineer)).toMatchObject([{ id: "dev-odd", queue: { oldestAt: null } }]);
});
