import { afterAll, beforeAll, expect, it, vi } from "vitest";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../helpers/database";
import { runGateRaces } from "../helpers/gate-races";
import { createTestPlant } from "../helpers/plant";

vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const ROUNDS = 10_000;
let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

it(`ships no frame on bad evidence and loses no decision in ${ROUNDS} races`, async () => {
  const plant = await createTestPlant({ frames: 1, plan: "routine" });
  const { outcome, faults } = await runGateRaces(plant, ROUNDS, 1);
  const told = Object.entries(outcome).map(([what, count]) => `${count} ${what}`);
  console.info(`gate-races: ${ROUNDS} races, ${told.join(", ")}, ${faults.length} faults`);
  expect(faults).toEqual([]);
  expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
}, 3_600_000);
