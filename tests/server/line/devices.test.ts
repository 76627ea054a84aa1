import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { recordZeroCheck } from "@/lib/server/gauges/commands";
import { startFrame } from "@/lib/server/inspections/lease-frame";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { listDevices, renameDevice, restoreDevice, revokeDevice } from "@/lib/server/line/devices";
import { getStationPackage } from "@/lib/server/line/queries";
import { reportDevice } from "@/lib/server/line/report-device";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH } from "../../helpers/plant";

let database: TestDatabase;

beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(() => database.drop());

describe("a device of a station", () => {
  it("is listed with what waits on it, taken out of use and put back", async () => {
    const plant = await createTestPlant({ frames: 3, plan: "routine" });
    const [inspector, engineer] = [await plant.as("inspector"), await plant.as("engineer")];
    const said = {
      batch: TEST_BATCH,
      differences: ["T-0003"],
      waiting: 3,
      refused: 1,
      oldestAt: 1_700_000_000_000,
      clockSkewMs: -250,
    };
    await reportDevice(inspector, { deviceId: "dev-1", stationId: plant.stationId, ...said });
    await startFrame(inspector, { serial: "T-0002", deviceId: "dev-1" });
    const inHand = async () => (await getStationPackage(inspector, plant.stationId)).batches[0]?.devices;
    expect(await inHand()).toEqual([{ id: "dev-1", name: "Station 1, device 1", since: expect.any(String) }]);
    await expect(revokeDevice(inspector, { id: "dev-1", reason: "lost" })).rejects.toMatchObject({ code: "forbidden" });
    await expect(revokeDevice(engineer, { id: "dev-9", reason: "lost" })).rejects.toMatchObject({ code: "not-found" });

    await revokeDevice(engineer, { id: "dev-1", reason: "lost on the way to the paint shop" });
    const refused = { code: "refused", details: { device: "dev-1", revoked: true } };
    const inspection = { ...plant.inspection("T-0001"), deviceId: "dev-1" };
    await expect(recordInspection(inspector, inspection)).rejects.toMatchObject(refused);
    const check = { id: uuidV7(), gauge: "BG", readingMm: 41, occasion: "other", deviceId: "dev-1" } as const;
    await expect(recordZeroCheck(inspector, check)).rejects.toMatchObject(refused);
    await expect(startFrame(inspector, { serial: "T-0003", deviceId: "dev-1" })).rejects.toMatchObject(refused);
    expect((await listDevices(inspector))[0]).toMatchObject({
      id: "dev-1",
      station: "Station 1",
      line: "L1",
      revokedAt: expect.any(String),
      // By the server's clock: the device's own is a quarter of a second behind.
      queue: {
        waiting: 3,
        refused: 1,
        oldestAt: new Date(1_700_000_000_250).toISOString(),
        clockSkewMs: -250,
        batch: TEST_BATCH,
        differences: ["T-0003"],
      },
      frames: [{ serial: "T-0002", batch: TEST_BATCH }],
    });

    expect(await inHand()).toEqual([]);
    await restoreDevice(engineer, "dev-1");
    await renameDevice(engineer, { id: "dev-1", name: "Tablet at the mill" });
    await expect(recordInspection(inspector, inspection)).resolves.toMatchObject({ status: "recorded" });
    expect((await listDevices(engineer))[0]).toMatchObject({ name: "Tablet at the mill", revokedAt: null });
    const { rows } = await getPool().query<{ action: string }>(sql`
      select action from journal_entry where plant_id = ${plant.plantId} and action like 'device.%' order by sequence`);
    expect(rows.map(({ action }) => action)).toEqual(["device.revoked", "device.restored", "device.renamed"]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("has the name that was typed on it, else one by its station, until somebody renames it", async () => {
    const plant = await createTestPlant({ frames: 1, plan: "routine" });
    const [inspector, engineer] = [await plant.as("inspector"), await plant.as("engineer")];
    const nameOf = async (deviceId: string, name?: string): Promise<string> => {
      const said = { deviceId, stationId: plant.stationId, waiting: 0, refused: 0, oldestAt: null, clockSkewMs: null };
      return (await reportDevice(inspector, { ...said, ...(name === undefined ? {} : { name }) })).name;
    };
    expect(await nameOf("dev-1", "Tablet at the mill")).toBe("Tablet at the mill");
    expect(await nameOf("dev-2")).toBe("Station 1, device 2");
    await renameDevice(engineer, { id: "dev-2", name: "Tablet 7" });
    expect(await nameOf("dev-2", "what it was called before")).toBe("Tablet 7");
    // A device of an earlier version has its key for a name.
    await getPool().query(sql`update device set name = id where plant_id = ${plant.plantId} and id = 'dev-1'`);
    expect(await nameOf("dev-1")).toBe("Station 1, device 2");
  });

  it("lease a batch from the moment in which they take it until they leave it or fall silent", async () => {
    const plant = await createTestPlant({ frames: 3, plan: "routine" });
    const inspector = await plant.as("inspector");
    const begun = Date.parse("2026-03-02T08:00:00Z");
    const say = async (deviceId: string, minute: number, batch: string | null) => {
      const said = { deviceId, stationId: plant.stationId, waiting: 0, refused: 0, oldestAt: null, clockSkewMs: null };
      return (await reportDevice(inspector, { ...said, batch }, new Date(begun + minute * 60_000))).batchElsewhere;
    };
    expect(await say("dev-1", 0, TEST_BATCH)).toEqual([]);
    expect(await say("dev-1", 10, TEST_BATCH)).toEqual([]);
    const first = { id: "dev-1", name: "Station 1, device 1", since: "2026-03-02T08:00:00.000Z" };
    expect(await say("dev-2", 12, TEST_BATCH)).toEqual([first]);
    expect(await say("dev-1", 13, TEST_BATCH)).toEqual([
      { ...first, id: "dev-2", name: "Station 1, device 2", since: "2026-03-02T08:12:00.000Z" },
    ]);
    expect(await say("dev-2", 14, null)).toEqual([]);
    expect(await say("dev-1", 15, TEST_BATCH)).toEqual([]);
    // Silent for more than a quarter of an hour: somebody else's, and taken anew when it is back.
    expect(await say("dev-2", 31, TEST_BATCH)).toEqual([]);
    await say("dev-1", 32, TEST_BATCH);
    expect(await say("dev-2", 33, TEST_BATCH)).toEqual([{ ...first, since: "2026-03-02T08:32:00.000Z" }]);
  });
});
