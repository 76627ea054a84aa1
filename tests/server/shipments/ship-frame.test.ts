import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { giveUpFrame, startFrame } from "@/lib/server/inspections/lease-frame";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { countShipments } from "@/lib/server/shipments/queries";
import { enquireFrame, shipFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 3 });
});
const measure = (...serials: string[]) =>
  recordInspections(
    plant.system,
    serials.map((serial) => plant.inspection(serial)),
  );
const codes = (answer: { reasons: readonly { code: string }[] }) => answer.reasons.map((one) => one.code);

describe("the ship scan", () => {
  it("stops an unknown serial, an unmeasured frame and an incomplete batch", async () => {
    const dock = await plant.as("dock");
    expect(codes(await enquireFrame(dock, "NOPE"))).toEqual(["unknown"]);
    await measure("T-0001");
    expect(codes(await enquireFrame(dock, "T-0001"))).toEqual(["batch-incomplete"]);
    expect(codes(await enquireFrame(dock, "T-0002"))).toEqual(["not-measured", "batch-incomplete"]);
  });

  it("knows a serial in other capitals, also when the scan is sent again", async () => {
    const dock = await plant.as("dock");
    await measure("T-0001", "T-0002", "T-0003");
    expect(await enquireFrame(dock, "t-0001")).toMatchObject({ answer: "go", serial: "T-0001" });
    const id = uuidV7();
    for (const serial of ["t-0001", "T-0001", "t-0001"])
      expect(await shipFrame(dock, { id, serial })).toMatchObject({ answer: "shipped", serial: "T-0001", id });
    await expect(shipFrame(dock, { id, serial: "t-0002" })).rejects.toMatchObject({ code: "conflict" });
  });

  it("says which frame a misread serial is nearly, and counts it as stopping nobody", async () => {
    const dock = await plant.as("dock");
    const near = async (serial: string) => (await shipFrame(dock, { id: uuidV7(), serial })).reasons[0]?.near;
    const before = await countShipments(dock);
    expect(await near("T-0011")).toEqual(["T-0001"]);
    expect(await near("t-00023")).toEqual(["T-0002", "T-0003"]);
    expect(await near("T-003")).toEqual(["T-0003"]);
    expect(await near("T-0004")).toEqual(["T-0001", "T-0002", "T-0003"]);
    expect(await countShipments(dock)).toEqual(before);
    expect((await enquireFrame(dock, "T-0011")).reasons).toEqual([
      {
        code: "unknown",
        near: ["T-0001"],
        text: "No frame has the serial T-0011. Nearly the same: T-0001. Scan again, or key what stands on the frame.",
      },
    ]);
    expect(await near("T-9990")).toBeUndefined();
    expect((await countShipments(dock)).refused).toBe(before.refused + 1);
  });

  it("ships a frame of a complete, conforming batch once", async () => {
    const dock = await plant.as("dock");
    await measure("T-0001", "T-0002", "T-0003");
    expect(await enquireFrame(dock, "T-0001")).toMatchObject({ answer: "go" });
    const id = uuidV7();
    expect(await shipFrame(dock, { id, serial: "T-0001" })).toMatchObject({ answer: "shipped" });
    expect(await shipFrame(dock, { id, serial: "T-0001" })).toMatchObject({ answer: "shipped", id });
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0001" })).toMatchObject({ answer: "refused" });
  });

  it("gives one answer when the same scan arrives many times at once", async () => {
    const dock = await plant.as("dock");
    await measure("T-0001", "T-0002", "T-0003");
    const id = uuidV7();
    const answers = await Promise.all(Array.from({ length: 6 }, () => shipFrame(dock, { id, serial: "T-0002" })));
    expect(answers.map((one) => one.answer)).toEqual(Array(6).fill("shipped"));
    const others = await Promise.all(
      Array.from({ length: 6 }, () => shipFrame(dock, { id: uuidV7(), serial: "T-0003" })),
    );
    expect(others.filter((one) => one.answer === "shipped")).toHaveLength(1);
  });

  it("stops every frame of a batch in which one does not conform", async () => {
    const dock = await plant.as("dock");
    await recordInspections(plant.system, [
      plant.inspection("T-0001", { "ds.bore.2@12-6": 40.9 }),
      plant.inspection("T-0002"),
      plant.inspection("T-0003"),
    ]);
    expect(codes(await enquireFrame(dock, "T-0001"))).toEqual(["held", "batch-held"]);
    expect(codes(await enquireFrame(dock, "T-0002"))).toEqual(["batch-held"]);
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0002" })).toMatchObject({ answer: "refused" });
  });

  it("does not ship a frame whose readings may be on a device", async () => {
    const inspector = await plant.as("inspector");
    const dock = await plant.as("dock");
    await measure("T-0001", "T-0002", "T-0003");
    await startFrame(inspector, { serial: "T-0001", deviceId: "tablet-1" });
    expect(codes(await shipFrame(dock, { id: uuidV7(), serial: "T-0001" }))).toEqual(["in-measurement"]);
    await expect(startFrame(inspector, { serial: "T-0001", deviceId: "tablet-2" })).rejects.toMatchObject({
      code: "frame-leased",
    });
    await giveUpFrame(inspector, { serial: "T-0001", deviceId: "tablet-1" });
    expect(await shipFrame(dock, { id: uuidV7(), serial: "T-0001" })).toMatchObject({ answer: "shipped" });
  });

  it("lets only the dock ship", async () => {
    const engineer = await plant.as("engineer");
    await expect(shipFrame(engineer, { id: uuidV7(), serial: "T-0001" })).rejects.toMatchObject({ code: "forbidden" });
  });
});
