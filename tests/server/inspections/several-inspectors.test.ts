import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import { recordInspectionSchema, type RecordInspection } from "@/lib/schemas/inspection";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { recordInspection } from "@/lib/server/inspections/record-inspections";
import { forgetReferenceData } from "@/lib/server/evidence/reference-data";
import { changeBadge, deactivatePerson } from "@/lib/server/people/commands";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createSignIn, setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let people: Record<"early" | "late", string>;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

beforeEach(async () => {
  plant = await createTestPlant({ frames: 2, plan: "routine" });
  people = { early: uuidV7(), late: uuidV7() };
  await getPool().query(sql`
    insert into person (plant_id, id, name, badge_code) values
      (${plant.plantId}, ${people.early}, 'Early Shift', 'D1'), (${plant.plantId}, ${people.late}, 'Late Shift', 'D2')`);
  forgetReferenceData(plant.plantId);
});

/** Six readings by the early shift, the third of them keyed anew by the late one, who also took the rest. */
function handedOver(): RecordInspection {
  return {
    ...plant.inspection("T-0001"),
    inspectorCode: "D2",
    superseded: [{ index: 2, value: 40.965, reason: "chips or dirt in the way", offsetMs: 2000, by: "D1" }],
    attributes: {
      inspectors: [
        { from: 0, code: "D1" },
        { from: 2, code: "D2" },
        { from: 3, code: "D1" },
        { from: 6, code: people.late },
      ],
    },
  };
}

describe("a badge that changed hands while readings were on a device", () => {
  const measured = (serial: string, minutesAgo: number, inspectorCode: string): RecordInspection => ({
    ...plant.inspection(serial),
    inspectorCode,
    deviceTime: new Date(Date.now() - minutesAgo * 60_000).toISOString(),
  });
  const boss = () => createSignIn(plant.system, `${uuidV7()}@plant.example`, "administrator");
  const inspectorOf = async (serial: string) =>
    (await getFrameRecord(await plant.as("auditor"), serial)).inspections[0]?.inspector;

  it("names who carried it when the frame was measured, and from then on the other", async () => {
    await changeBadge(await boss(), { personId: people.early, badgeCode: "D9" });
    await changeBadge(await boss(), { personId: people.late, badgeCode: "D1" });
    await recordInspection(plant.system, measured("T-0001", 30, "D1"));
    await recordInspection(plant.system, measured("T-0002", 0, "D1"));
    expect(await inspectorOf("T-0001")).toBe("Early Shift");
    expect(await inspectorOf("T-0002")).toBe("Late Shift");
  });

  it("names who has left since, by badge or own key, but for nothing measured afterwards", async () => {
    await deactivatePerson(await boss(), { personId: people.early });
    await recordInspection(plant.system, measured("T-0001", 30, "D1"));
    await recordInspection(plant.system, measured("T-0002", 30, people.early));
    expect([await inspectorOf("T-0001"), await inspectorOf("T-0002")]).toEqual(["Early Shift", "Early Shift"]);
    await expect(recordInspection(plant.system, measured("T-0001", -1, "D1"))).rejects.toMatchObject({
      code: "not-found",
    });
  });
});

describe("a frame measured by two inspectors", () => {
  it("keeps each reading with who took it, by badge or by the person's key, also the replaced value", async () => {
    const input = handedOver();
    await recordInspection(plant.system, input);
    await getPool().query(
      sql`update person set badge_code = 'gone' where plant_id = ${plant.plantId} and id = ${people.early}`,
    );
    const [inspection] = (await getFrameRecord(await plant.as("auditor"), "T-0001")).inspections;
    const E = "Early Shift";
    const L = "Late Shift";
    expect(inspection?.readings.map((one) => one.inspector)).toEqual([
      E,
      E,
      L,
      E,
      E,
      E,
      ...plant.names.slice(6).map(() => L),
    ]);
    expect(inspection).toMatchObject({ inspector: L, superseded: [{ value: 40.965, inspector: E }] });
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
  });

  it("is withdrawn by neither of them", async () => {
    const input = handedOver();
    await recordInspection(plant.system, input);
    const withdraw = (personId: string) =>
      withdrawInspection(
        { kind: "person", plantId: plant.plantId, plantZone: "UTC", personId, name: "x", roles: ["engineer"] },
        { id: input.id, reason: "wrong frame" },
      );
    await expect(withdraw(people.early)).rejects.toMatchObject({ code: "refused" });
    await expect(withdraw(people.late)).rejects.toMatchObject({ code: "refused" });
    await expect(withdraw((await plant.as("engineer")).personId)).resolves.toMatchObject({ serial: "T-0001" });
  });

  it("is refused where a code belongs to nobody or a place is not in the plan", async () => {
    const attributes = (second: { from: number; code: string }) => ({
      ...handedOver(),
      attributes: { inspectors: [{ from: 0, code: "D1" }, second] },
    });
    await expect(recordInspection(plant.system, attributes({ from: 5, code: "XX" }))).rejects.toMatchObject({
      code: "not-found",
      userMessage: expect.stringMatching(/badge XX belongs to nobody/),
    });
    await expect(
      recordInspection(plant.system, attributes({ from: plant.names.length, code: "D2" })),
    ).rejects.toMatchObject({
      code: "invalid-input",
      details: expect.anything(),
    });
    const backwards = {
      ...handedOver(),
      attributes: {
        inspectors: [
          { from: 3, code: "D1" },
          { from: 1, code: "D2" },
        ],
      },
    };
    expect(recordInspectionSchema.safeParse(backwards).success).toBe(false);
  });
});
