import { afterAll, beforeAll, expect, it } from "vitest";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { getBatch } from "@/lib/server/gate/queries";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, TEST_BATCH } from "../../helpers/plant";
import { setTestEnvironment } from "../auth/plant-fixture";

let database: TestDatabase;
beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

it("names the decision rule of the drawing that the plan in force measures by", async () => {
  const plant = await createTestPlant({ frames: 1 });
  const manager = await plant.as("supplier_manager");
  expect((await getBatch(manager, TEST_BATCH)).decisionRule).toBe("guard-u");
  const drawing = JSON.parse(JSON.stringify({ ...PRESS_FIT_41, revision: "Z", decisionRule: "simple" }));
  const { id: drawingRevisionId } = await draftDrawing(plant.system, { drawing });
  await releaseDrawing(plant.system, drawingRevisionId);
  const readingNames = plant.names.map(formatReadingName);
  const { id } = await draftPlan(plant.system, {
    key: "P1",
    title: "Plan 1",
    revision: "2",
    drawingRevisionId,
    readingNames,
    frames: { kind: "all" },
  });
  expect((await getBatch(manager, TEST_BATCH)).decisionRule).toBe("guard-u");
  await releasePlan(plant.system, id);
  expect((await getBatch(manager, TEST_BATCH)).decisionRule).toBe("simple");
});
