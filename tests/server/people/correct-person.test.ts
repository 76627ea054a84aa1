import { afterAll, beforeAll, expect, it } from "vitest";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { getJournal } from "@/lib/server/audit/journal-page";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { correctPerson, createPerson } from "@/lib/server/people/commands";
import { listPeople } from "@/lib/server/people/queries";
import { createSignIn, PASSWORD } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";

let database: TestDatabase;
let plant: TestPlant;

beforeAll(async () => {
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: 2 });
});
afterAll(() => database.drop());

it("shows the name of then in what was recorded before, and the new one afterwards", async () => {
  const engineer = await createSignIn(plant.system, "miss.pelt@plant.example", "engineer");
  const { personId } = engineer;
  const [first, second] = [plant.inspection("T-0001"), plant.inspection("T-0002")];
  await recordInspections(plant.system, [first, second]);
  await withdrawInspection(engineer, { id: first.id, reason: "another frame was on the stand" });
  await correctPerson(plant.system, { personId, name: "Ines Peltola", email: "ines.peltola@plant.example" });
  await withdrawInspection(engineer, { id: second.id, reason: "another frame was on the stand" });

  const auditor = await createSignIn(plant.system, "auditor@plant.example", "auditor");
  const withdrawnBy = async (serial: string) =>
    (await getFrameRecord(auditor, serial)).inspections.map((one) => one.withdrawal?.person);
  expect(await withdrawnBy("T-0001")).toEqual([engineer.name]);
  expect(await withdrawnBy("T-0002")).toEqual(["Ines Peltola"]);
  const { newest } = await getJournal(auditor, { actor: `person:${personId}` });
  expect(newest.filter(({ action }) => action === "inspection.withdrawn").map(({ actor }) => actor)).toEqual([
    "Ines Peltola",
    engineer.name,
  ]);
  const people = await listPeople(auditor);
  expect(people.find((one) => one.personId === personId)).toMatchObject({
    name: "Ines Peltola",
    email: "ines.peltola@plant.example",
  });
  expect((await database.pool.query("select name, email from former_identity")).rows).toEqual([
    { name: engineer.name, email: "miss.pelt@plant.example" },
  ]);
  expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
});

it("refuses in words, and changes nothing then", async () => {
  const boss = await createSignIn(plant.system, "boss@plant.example", "administrator");
  const badgeOnly = await createPerson(plant.system, { name: "Tavin", roles: ["inspector"], badgeCode: "B-18" });
  const before = await listPeople(plant.system);
  const own = { personId: boss.personId, name: "Somebody Else" };
  await expect(correctPerson(boss, own)).rejects.toMatchObject({ code: "sign-in-refused" });
  await expect(
    correctPerson(boss, { ...own, email: "auditor@plant.example", password: PASSWORD }),
  ).rejects.toMatchObject({ code: "conflict", fields: [{ path: "email" }] });
  await expect(
    correctPerson(boss, { ...badgeOnly, name: "Tavin", email: "tavin@plant.example" }),
  ).rejects.toMatchObject({ code: "refused" });
  await expect(correctPerson(boss, { ...badgeOnly, name: " " })).rejects.toMatchObject({ code: "invalid-input" });
  expect(await listPeople(plant.system)).toEqual(before);
  await correctPerson(boss, { ...own, password: PASSWORD });
  await correctPerson(boss, { ...badgeOnly, name: "Tavin" });
  expect((await database.pool.query("select name from former_identity where name = 'Tavin'")).rows).toEqual([]);
});
