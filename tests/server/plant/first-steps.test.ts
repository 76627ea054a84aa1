import { afterAll, beforeAll, expect, it } from "vitest";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { listFirstSteps } from "@/lib/server/plant/first-steps";
import { createPlant, createSignIn } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant } from "../../helpers/plant";

let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(() => database.drop());

it("leads through the first day in the order in which it can be done, and says whom to ask by name", async () => {
  const system = await createPlant("empty");
  const boss = await createSignIn(system, "boss@plant.example", "administrator");
  const alone = await listFirstSteps(boss);
  expect(alone.map(({ key }) => key)).toEqual([
    "lines",
    "operations",
    "stations",
    "drawings",
    "plans",
    "rings",
    "gauges",
    "inspectors",
    "suppliers",
    "models",
    "batches",
    "measured",
  ]);
  expect(alone.every(({ done, ask }) => !done && ask.length === 0)).toBe(true);
  const engineer = await createSignIn(system, "engineer@plant.example", "engineer");
  const steps = await listFirstSteps(boss);
  expect(steps.filter(({ key }) => key !== "inspectors").every(({ ask }) => ask.join() === engineer.name)).toBe(true);
  expect(steps.find(({ key }) => key === "inspectors")?.ask).toEqual([]);
  const own = await listFirstSteps(engineer);
  expect(own.filter(({ ask }) => ask.length > 0).map(({ key, ask }) => [key, ask])).toEqual([
    ["inspectors", [boss.name]],
  ]);
});

it("ends with a measured frame", async () => {
  const plant = await createTestPlant({ frames: 1 });
  const missing = async () => (await listFirstSteps(plant.system)).filter(({ done }) => !done).map(({ key }) => key);
  expect(await missing()).toContain("measured");
  await recordInspections(plant.system, [plant.inspection("T-0001")]);
  expect(await missing()).toEqual([]);
});
