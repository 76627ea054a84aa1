import { afterAll, beforeAll, expect, it, vi } from "vitest";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { runGateRaces } from "../../helpers/gate-races";
import { createTestPlant } from "../../helpers/plant";

// What is raced here is the order of transactions; the signature is tested elsewhere.
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const ROUNDS = 300;
/** Races that run beside each other, so that the line and the journal are raced for, too. */
const LANES = 3;
let database: TestDatabase;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

it(`ships no frame on bad evidence and loses no decision in ${ROUNDS} races of everything at once`, async () => {
  const plant = await createTestPlant({ frames: 1, plan: "routine" });
  const lanes = Array.from({ length: LANES }, (_, lane) => runGateRaces(plant, ROUNDS / LANES, lane + 1));
  const raced = await Promise.all(lanes);
  expect(raced.flatMap(({ faults }) => faults)).toEqual([]);
  // Each of them came about: what was looked for could have been there.
  for (const what of ["shipped", "refused", "escaped", "returned", "released", "lost"] as const)
    expect(
      raced.reduce((sum, { outcome }) => sum + outcome[what], 0),
      what,
    ).toBeGreaterThan(0);
  expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
}, 120_000);
