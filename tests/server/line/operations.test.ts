import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { startFrame } from "@/lib/server/inspections/lease-frame";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { getStationPackage, listBatchFrames } from "@/lib/server/line/queries";
import { createOperation, createStation } from "@/lib/server/plant/create-parts";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(() => database.drop());

/** Measured frames of the batch, and valid inspections of its first frame, as a station is told. */
async function counted(viewer: PersonViewer, stationId: string): Promise<readonly [number, number]> {
  const [batch] = (await getStationPackage(viewer, stationId)).batches;
  if (!batch) throw new Error("the station has no batch");
  const [first] = await listBatchFrames(viewer, batch, { kind: "all" }, stationId);
  return [batch.measured, first?.inspections ?? -1];
}

describe("a line with two operations", () => {
  it("has frames to measure after paint that were measured before it, without a reason", async () => {
    const plant = await createTestPlant({ frames: 3, plan: "routine" });
    const inspector = await plant.as("inspector");
    await createOperation(plant.system, { key: "painted", name: "after paint", position: 2 });
    const bench = { key: "S2", name: "Paint bench", line: "L1", operation: "painted", viewingSide: "ds" } as const;
    const painted = await createStation(plant.system, bench);
    await recordInspection(plant.system, plant.inspection("T-0001"));
    expect(await counted(inspector, plant.stationId)).toEqual([1, 1]);
    expect(await counted(inspector, painted.id)).toEqual([0, 0]);
    const lease = { serial: "T-0001", deviceId: "dev-1" };
    expect(await startFrame(inspector, { ...lease, stationId: plant.stationId })).toMatchObject({ inspections: 1 });
    expect(await startFrame(inspector, { ...lease, stationId: painted.id })).toMatchObject({ inspections: 0 });
    const own = { ...plant.inspection("T-0001"), stationId: painted.id, deviceId: "dev-1" };
    expect(await recordInspection(plant.system, own)).toMatchObject({ status: "recorded", ordinal: 1 });
    expect(await counted(inspector, painted.id)).toEqual([1, 1]);
  });
});
