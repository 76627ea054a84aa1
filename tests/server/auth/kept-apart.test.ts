import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { decideFrames } from "@/lib/server/gate/commands";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { forgetReferenceData } from "@/lib/server/evidence/reference-data";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { createSignIn, PASSWORD, setTestEnvironment } from "./plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;
let eve: PersonViewer;
let other: PersonViewer;
const ADA = "D1";

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

beforeEach(async () => {
  plant = await createTestPlant({ frames: 4, plan: "routine" });
  eve = await plant.as("engineer");
  other = await plant.as("engineer");
  await getPool().query(sql`
    insert into person (plant_id, id, name, badge_code) values (${plant.plantId}, ${uuidV7()}, 'Ada Brook', ${ADA})`);
  await getPool().query(sql`
    update person set badge_code = 'E1' where plant_id = ${plant.plantId} and id = ${eve.personId}`);
  forgetReferenceData(plant.plantId);
});

const withdraw = (viewer: PersonViewer, { id }: { id: string }) =>
  withdrawInspection(viewer, { id, reason: "wrong frame on the stand" });

describe("withdrawing an inspection", () => {
  const cases: [string, () => PersonViewer | TestPlant["system"], () => Partial<RecordInspection>, string][] = [
    ["one's own", () => eve, () => ({}), "keyed"],
    ["sent under one's sign-in with somebody else's badge", () => eve, () => ({ inspectorCode: ADA }), "sent"],
    ["under one's badge, sent by another", () => other, () => ({ inspectorCode: "E1" }), "keyed"],
    ["under one's own key, sent by Shellgate", () => plant.system, () => ({ inspectorCode: eve.personId }), "keyed"],
    [
      "where one took single readings",
      () => plant.system,
      () => ({
        inspectorCode: ADA,
        attributes: {
          inspectors: [
            { from: 0, code: ADA },
            { from: 2, code: "E1" },
            { from: 3, code: ADA },
          ],
        },
      }),
      "keyed",
    ],
    [
      "where one keyed a value that was replaced",
      () => plant.system,
      () => ({
        inspectorCode: ADA,
        superseded: [{ index: 1, value: 40.9, reason: "chips in the way", offsetMs: 1000, by: "E1" }],
      }),
      "keyed",
    ],
  ];

  it.each(cases)("is refused for one %s", async (_what, sender, change, tie) => {
    const input = { ...plant.inspection("T-0001"), ...change() };
    await recordInspection(sender(), input);
    await expect(withdraw(eve, input)).rejects.toMatchObject({
      code: "refused",
      details: { tie },
      userMessage: expect.stringMatching(/somebody else has to withdraw it. Nothing was changed.$/),
    });
    const third = await plant.as("engineer");
    await expect(withdraw(third, input)).resolves.toMatchObject({ serial: "T-0001" });
  });

  it("knows the sender of each of many that were recorded together", async () => {
    const inputs = ["T-0001", "T-0002"].map((serial) => ({ ...plant.inspection(serial), inspectorCode: ADA }));
    const [first, second] = inputs;
    if (!first || !second) throw new Error("two inspections");
    await Promise.all([recordInspections(eve, [first]), recordInspections(other, [second])]);
    await expect(withdraw(eve, first)).rejects.toMatchObject({ details: { tie: "sent" } });
    await expect(withdraw(other, second)).rejects.toMatchObject({ details: { tie: "sent" } });
    await expect(withdraw(eve, second)).resolves.toMatchObject({ serial: "T-0002" });
    await expect(withdraw(other, first)).resolves.toMatchObject({ serial: "T-0001" });
  });
});

describe("letting a frame pass", () => {
  const signer = (...roles: ("engineer" | "supplier_manager")[]) =>
    createSignIn(plant.system, `${uuidV7()}@plant.example`, ...roles);
  const batch = async () => {
    const { rows } = await getPool().query<{ id: string; version: number }>(sql`
      select id, version from batch where plant_id = ${plant.plantId}`);
    if (!rows[0]) throw new Error("the batch is missing");
    return rows[0];
  };
  const decide = async (viewer: PersonViewer, disposition: "release" | "concession" | "regrade" | "scrap") => {
    const { id: batchId, version: batchVersion } = await batch();
    const end = disposition === "concession" ? { expiresAt: new Date(Date.now() + 86_400_000).toISOString() } : {};
    const signed = { grounds: "looked at again", password: PASSWORD, batchVersion, ...end };
    return decideFrames(viewer, { id: uuidV7(), batchId, serials: ["T-0001"], disposition, ...signed });
  };

  it.each(["release", "concession", "regrade"] as const)("by %s is refused to who measured it", async (disposition) => {
    const who = await signer("engineer", "supplier_manager");
    const input = { ...plant.inspection("T-0001"), inspectorCode: ADA };
    await recordInspection(who, input);
    await expect(decide(who, disposition)).rejects.toMatchObject({
      code: "refused",
      userMessage: "It was recorded under your sign-in: somebody else has to sign for it. Nothing was changed.",
    });
    await expect(decide(await signer("engineer", "supplier_manager"), disposition)).resolves.toEqual({ frames: 1 });
  });

  it("asks nothing of who takes a frame out, and nothing more once the inspection is withdrawn", async () => {
    const who = await signer("engineer");
    const input = plant.inspection("T-0001");
    await recordInspection(who, input);
    await withdraw(eve, input);
    await recordInspection(plant.system, { ...plant.inspection("T-0001"), reason: "again" });
    await expect(decide(who, "release")).resolves.toEqual({ frames: 1 });
    await expect(decide(who, "scrap")).resolves.toEqual({ frames: 1 });
  });
});
