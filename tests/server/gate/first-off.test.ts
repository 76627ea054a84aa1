import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { PASSWORD, createSignIn, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { testGauges, createTestPlant, goodValue, type TestPlant } from "@/tests/helpers/plant";
import { fullPlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { DraftPlan, FirstOffRule } from "@/lib/schemas/plan";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { getStationPackage } from "@/lib/server/line/queries";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { getFirstOffState, releaseFirstOff } from "@/lib/server/gate/first-off";

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let inspector: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ plan: "routine" });
  engineer = await createSignIn(plant.system, "engineer@plant.example", "engineer");
  inspector = await createSignIn(plant.system, "inspector@plant.example", "inspector");
});
afterAll(() => database.drop());

const state = () => getFirstOffState(inspector, plant.stationId);
const release = (viewer: PersonViewer, inspectionId: string, password = PASSWORD) =>
  releaseFirstOff(viewer, { id: uuidV7(), stationId: plant.stationId, inspectionId, grounds: "all good", password });

async function planAsks(settings: { firstOff: FirstOffRule }, revision: string): Promise<void> {
  const { rows } = await database.pool.query("select reading_names from measuring_plan_revision where id = $1", [
    plant.planRevisionId,
  ]);
  const { id } = await draftPlan(plant.system, {
    key: "P1",
    title: "Plan 1",
    revision,
    drawingRevisionId: plant.drawingRevisionId,
    readingNames: rows[0].reading_names,
    frames: { kind: "all" },
    settings,
  });
  await releasePlan(plant.system, id);
}

async function measure(serial: string, change: Record<string, number | null> = {}): Promise<string> {
  const inspection = plant.inspection(serial, change);
  const [answer] = await recordInspections(plant.system, [inspection]);
  expect(answer).toMatchObject({ status: "recorded" });
  return inspection.id;
}

describe("the first-off release", () => {
  it("is not asked for by a plan that does not ask", async () => {
    expect(await state()).toEqual({ state: "not asked" });
  });

  it("falls due, waits for an engineer at the first good frame, and is released with a signature", async () => {
    await planAsks({ firstOff: { each: "shift", starts: ["00:00"] } }, "2");
    expect(await state()).toMatchObject({ state: "due", why: "start of the shift" });
    const bad = await measure("T-0001", { "ds.bore.8@12-6": 41.08 });
    expect(await state()).toMatchObject({ state: "waiting", frame: { inspectionId: bad, serial: "T-0001" } });
    await expect(release(engineer, bad)).rejects.toMatchObject({ code: "refused" });
    const good = await measure("T-0002");
    const waiting = await state();
    expect(waiting).toMatchObject({ state: "waiting", frame: { serial: "T-0002", verdict: "conforms" } });
    await expect(release(engineer, bad)).rejects.toMatchObject({ code: "conflict" });
    await expect(release(inspector, good)).rejects.toMatchObject({ code: "forbidden" });
    await expect(release(engineer, good, "not-the-password")).rejects.toMatchObject({ code: "sign-in-refused" });
    await release(engineer, good);
    expect(await state()).toMatchObject({ state: "released", by: "engineer", grounds: "all good" });
    await expect(release(engineer, good)).rejects.toMatchObject({ code: "conflict" });
  });

  it("falls due again after an event on the line", async () => {
    await planAsks({ firstOff: { each: "event" } }, "3");
    expect(await state()).toEqual({ state: "not asked" });
    await database.pool.query(
      `insert into event (plant_id, id, line_id, kind, at, text)
       select plant_id, $1, line_id, 'reamer changed', date_trunc('milliseconds', now()), 'Reamer R-7 fitted' from station where id = $2`,
      [uuidV7(), plant.stationId],
    );
    expect(await state()).toMatchObject({ state: "due", why: "after: Reamer R-7 fitted" });
  });
});

describe("a first-off by a fuller plan", () => {
  it("comes with the station, and only a frame measured by it stands for the line", async () => {
    const other = await createTestPlant({ plan: "routine", frames: 2 });
    const viewer = await other.as("inspector");
    const settings = { firstOff: { each: "shift" as const, starts: ["00:00"], plan: "FULL" } };
    const shared = { title: "a plan", drawingRevisionId: other.drawingRevisionId, frames: { kind: "all" as const } };
    const release = async (draft: {
      key: string;
      revision: string;
      readingNames: string[];
      settings?: DraftPlan["settings"];
    }) => {
      const { id } = await draftPlan(other.system, { ...shared, ...draft });
      await releasePlan(other.system, id);
      return id;
    };
    const full = fullPlan(PRESS_FIT_41);
    const routine = { key: "P1", revision: "2", readingNames: other.names.map(formatReadingName), settings };
    await expect(release(routine)).rejects.toMatchObject({ fields: [{ path: "settings.firstOff.plan" }] });
    const planRevisionId = await release({ key: "FULL", revision: "1", readingNames: full.map(formatReadingName) });
    await release(routine);
    const { plans } = await getStationPackage(viewer, other.stationId);
    expect(plans.map(({ planKey, settings: own }) => [planKey, own?.firstOff?.plan]).sort()).toEqual([
      ["FULL", undefined],
      ["P1", "FULL"],
    ]);
    const inFull = {
      ...other.inspection("T-0002"),
      planRevisionId,
      readings: full.map(goodValue),
      gauges: testGauges(full),
    };
    await recordInspections(other.system, [other.inspection("T-0001")]);
    expect(await getFirstOffState(viewer, other.stationId)).toMatchObject({ state: "due" });
    await recordInspections(other.system, [inFull]);
    expect(await getFirstOffState(viewer, other.stationId)).toMatchObject({
      state: "waiting",
      frame: { serial: "T-0002", inspectionId: inFull.id },
    });
  });
});
