import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createPlant, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { SHELL_TEMPLATES, withWidth } from "@/lib/quality/shell-templates";
import { shellDrawingSchema, type DraftDrawing } from "@/lib/schemas/drawing";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { changeDrawingDraft } from "@/lib/server/drawings/commands";
import { changePlanDraft } from "@/lib/server/plans/commands";
import { getDrawingRevision } from "@/lib/server/drawings/queries";
import { getPlanRevision, listPlans } from "@/lib/server/plans/queries";

let database: TestDatabase;
let system: Viewer;
let other: Viewer;
let inspector: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  system = await createPlant("setup");
  other = await createPlant("elsewhere");
  const { plantId } = system;
  inspector = { kind: "person", plantId, plantZone: "UTC", personId: plantId, name: "Ines", roles: ["inspector"] };
});
afterAll(() => database.drop());

const plain = (drawing: ShellDrawing) => JSON.parse(JSON.stringify(drawing)) as DraftDrawing["drawing"];
const draft = (key: string, revision = "A") => ({ drawing: { ...plain(PRESS_FIT_41), key, revision } });
const names = (drawing: ShellDrawing) => fullPlan(drawing).map(formatReadingName);

describe("drawings", () => {
  it.each(SHELL_TEMPLATES.flatMap((one) => one.widthsMm.map((width) => [one.key, width, one.drawing] as const)))(
    "can be made from template %s at %d mm",
    (_, width, drawing) => {
      const parsed = shellDrawingSchema.safeParse(plain(withWidth(drawing, width)));
      expect(parsed.error?.issues).toBeUndefined();
    },
  );

  it("are drafted, changed as drafts, released, and then never change", async () => {
    const { id } = await draftDrawing(system, { ...draft("one"), isNew: true });
    const before = await getDrawingRevision(system, id);
    const wider = { ...plain(withWidth(PRESS_FIT_41, 92)), key: "one", revision: "A" };
    await changeDrawingDraft(system, { id, seen: before.seen, drawing: wider });
    const stale = changeDrawingDraft(system, { id, seen: before.seen, drawing: wider });
    await expect(stale).rejects.toMatchObject({ code: "conflict", message: expect.stringContaining("Somebody else") });
    await releaseDrawing(system, id);
    const after = await getDrawingRevision(system, id);
    expect(after).toMatchObject({ state: "released", drawing: { widthMm: 92 } });
    const late = changeDrawingDraft(system, { id, seen: after.seen, drawing: wider });
    await expect(late).rejects.toMatchObject({ code: "conflict", message: expect.stringContaining("never changes") });
    const { rows } = await database.pool.query(
      "select lower, upper from characteristic where drawing_revision_id = $1 and name = 'width'",
      [id],
    );
    expect(rows).toEqual([{ lower: 91.8, upper: 92.2 }]);
  });

  it("are revised: a new revision supersedes the one before", async () => {
    const a = await draftDrawing(system, draft("two", "A"));
    await releaseDrawing(system, a.id);
    const b = await draftDrawing(system, draft("two", "B"));
    expect((await getDrawingRevision(system, a.id)).state).toBe("released");
    await releaseDrawing(system, b.id);
    expect((await getDrawingRevision(system, a.id)).state).toBe("superseded");
    await expect(releaseDrawing(system, b.id)).rejects.toMatchObject({ code: "conflict" });
  });

  it("are not made twice under one key or one revision", async () => {
    await draftDrawing(system, { ...draft("three"), isNew: true });
    const again = draftDrawing(system, { ...draft("three", "B"), isNew: true });
    await expect(again).rejects.toMatchObject({ code: "conflict", fields: [{ path: "key" }] });
    const same = draftDrawing(system, draft("three"));
    await expect(same).rejects.toMatchObject({ code: "conflict", fields: [{ path: "revision" }] });
  });

  it.each([
    ["two seats that do not fit into the width", { seatDepthMm: 50 }, "seatDepthMm"],
    ["a bore as large as the shell", { shellOutsideDiameterMm: 40 }, "shellOutsideDiameterMm"],
    ["a section outside the seat", { fullPlanDepthsMm: [2, 13] }, "fullPlanDepthsMm"],
    ["a nominal far from its limits", { nominalBoreMm: 45 }, "characteristics.0.lower"],
  ])("refuse %s", (_, change, path) => {
    const problems = shellDrawingSchema.safeParse({ ...plain(PRESS_FIT_41), ...change }).error?.issues ?? [];
    expect(problems.map((one) => one.path.join("."))).toContain(path);
  });

  it("offer no limit on the zone to the common axis", () => {
    const limits = { lower: null, upper: 100, target: null, critical: true, uncertainty: 1 };
    const characteristics = [...PRESS_FIT_41.characteristics, { name: "coaxiality.common", ...limits }];
    expect(shellDrawingSchema.safeParse({ ...plain(PRESS_FIT_41), characteristics }).success).toBe(false);
  });

  it("are the engineers' and of their own plant", async () => {
    await expect(draftDrawing(inspector, draft("four"))).rejects.toMatchObject({ code: "forbidden" });
    const { id } = await draftDrawing(system, draft("four"));
    await expect(getDrawingRevision(other, id)).rejects.toMatchObject({ code: "not-found" });
    await expect(releaseDrawing(inspector, id)).rejects.toMatchObject({ code: "forbidden" });
    await expect(releaseDrawing(other, id)).rejects.toMatchObject({ code: "conflict" });
  });
});

describe("measuring plans", () => {
  const released = async (key: string) => {
    const { id } = await draftDrawing(system, draft(key));
    await releaseDrawing(system, id);
    return id;
  };
  const planOf = (key: string, drawingRevisionId: string, revision = "1") => ({
    key,
    title: "Plan",
    revision,
    drawingRevisionId,
    readingNames: names(PRESS_FIT_41),
    frames: { kind: "every" as const, n: 10, firstOff: true },
  });

  it("are drafted, changed, and released; the newer one supersedes", async () => {
    const drawingRevisionId = await released("p1");
    const one = await draftPlan(system, { ...planOf("P1", drawingRevisionId), isNew: true });
    expect(one.warnings).toEqual([]);
    const { seen } = await getPlanRevision(system, one.id);
    const readingNames = routinePlan(PRESS_FIT_41).map(formatReadingName);
    const settings = { firstOff: { each: "shift" as const, starts: ["06:00"] } };
    const { title, frames } = planOf("P1", drawingRevisionId);
    const change = { id: one.id, seen, title, frames, drawingRevisionId, readingNames, settings };
    await changePlanDraft(system, change);
    await expect(changePlanDraft(system, change)).rejects.toMatchObject({ code: "conflict" });
    await releasePlan(system, one.id);
    const two = await draftPlan(system, planOf("P1", drawingRevisionId, "2"));
    await releasePlan(system, two.id);
    const states = (await listPlans(system)).filter((plan) => plan.key === "P1");
    expect(states.map(({ revision, state, readingNames: list }) => [revision, state, list.length])).toEqual([
      ["2", "released", 44],
      ["1", "superseded", 28],
    ]);
  });

  it("refuse a reading that the shell does not have, and name it", async () => {
    const drawingRevisionId = await released("p2");
    const readingNames = ["ds.bore.30@12-6", "ds.bore.2@3-9"];
    const plan = draftPlan(system, { ...planOf("P2", drawingRevisionId), readingNames });
    await expect(plan).rejects.toMatchObject({ code: "invalid-input", fields: [{ path: "readingNames" }] });
    expect((await listPlans(system)).some((one) => one.key === "P2")).toBe(false);
  });

  it("warn where the uncertainty eats the tolerance", async () => {
    const tight = draft("p3");
    tight.drawing.characteristics = tight.drawing.characteristics.map((one) =>
      one.name === "bore" ? { ...one, lower: 40.985, upper: 40.99 } : one,
    );
    const { id } = await draftDrawing(system, tight);
    await releaseDrawing(system, id);
    const { warnings } = await draftPlan(system, planOf("P3", id));
    expect(warnings).toEqual([
      "The uncertainty of bore (DS) is 118 % of its tolerance: no value can conform.",
      "The uncertainty of bore (NDS) is 118 % of its tolerance: no value can conform.",
    ]);
  });

  it("are not released for a drawing that was superseded meanwhile", async () => {
    const plan = await draftPlan(system, planOf("P4", await released("p4")));
    const next = await draftDrawing(system, draft("p4", "B"));
    await releaseDrawing(system, next.id);
    await expect(releasePlan(system, plan.id)).rejects.toMatchObject({ code: "refused" });
    expect((await getPlanRevision(system, plan.id)).state).toBe("draft");
  });

  it("are the engineers'", async () => {
    const drawingRevisionId = await released("p5");
    await expect(draftPlan(inspector, planOf("P5", drawingRevisionId))).rejects.toMatchObject({
      code: "forbidden",
    });
    await expect(draftPlan(other, planOf("P5", drawingRevisionId))).rejects.toMatchObject({ code: "not-found" });
  });
});
