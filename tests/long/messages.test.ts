import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { setTestEnvironment } from "../server/auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../helpers/database";
import { trialOfFailing, trialOfKills } from "../helpers/message-trials";
import { createTestPlant } from "../helpers/plant";

let database: TestDatabase;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(() => database.drop());

describe("messages", () => {
  it("10,000 to a receiver that refuses every third call all arrive, in order, duplicates under the same number", async () => {
    const trial = await trialOfFailing(await createTestPlant({ frames: 1 }), 10_000, 500);
    console.info("a receiver that refuses every third call:", trial);
    expect(trial).toMatchObject({ arrived: 10_000, mixed: 0, outOfOrder: 0 });
  });

  it("lose none while workers and writers are killed 200 times", async () => {
    const trial = await trialOfKills(database.appUrl, await createTestPlant({ frames: 1 }), 200, 11);
    console.info("killed at random:", trial);
    expect(trial.saidAndGone).toBe(0);
    expect(trial.arrived).toBe(trial.events);
    expect(trial.messages).toBe(trial.events);
  });
});
