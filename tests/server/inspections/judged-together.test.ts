import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { AppError } from "@/lib/errors";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { sql } from "@/lib/server/db/sql";
import { getFrameRecord } from "@/lib/server/frames/queries";
import { decideFrames } from "@/lib/server/gate/commands";
import { resolveDisagreement } from "@/lib/server/gate/resolve-disagreement";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import { createLine, createOperation, createStation } from "@/lib/server/plant/create-parts";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, goodValue, testGauges, type TestPlant } from "../../helpers/plant";

// Limits and U of press-fit 41 (invented): bore 40.950 to 41.000 mm, U 5.9 µm; coaxiality 100 µm.
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

const FULL = fullPlan(PRESS_FIT_41);
const BORES = FULL.filter(({ kind }) => kind === "bore");
const RAD = Math.PI / 180;
let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());
beforeEach(async () => {
  plant = await createTestPlant({ frames: 3 });
});

const all = (kind: ReadingName["kind"], value: number): Record<string, number> =>
  Object.fromEntries(FULL.filter((name) => name.kind === kind).map((name) => [formatReadingName(name), value]));
/** A parallel offset of the NDS seat: the zone is twice as large. */
const offset = (um: number): Record<string, number> =>
  Object.fromEntries(
    FULL.flatMap((name) =>
      name.kind === "sweep" ? [[formatReadingName(name), um * Math.cos(name.angleDeg * RAD)] as const] : [],
    ),
  );
const again = (change: Readonly<Record<string, number | null>> = {}, serial = "T-0001"): RecordInspection => ({
  ...plant.inspection(serial, change),
  reason: "measured again",
});
const frame = async (serial = "T-0001") =>
  (
    await database.pool.query<{ state: string; verdict: string; judgement: { name: string; reason?: string }[] }>(sql`
      select state::text as state, verdict, judgement from frame
      where plant_id = ${plant.plantId} and serial = ${serial}`)
  ).rows[0];
const refusalOf = async (promise: Promise<unknown>): Promise<AppError> => {
  try {
    await promise;
  } catch (error) {
    if (error instanceof AppError) return error;
    throw error;
  }
  throw new Error("it was not refused");
};

/** Another released plan of the same drawing. */
async function release(
  key: string,
  names: readonly ReadingName[],
  more: { readonly revision?: string; readonly settings?: Record<string, unknown> } = {},
): Promise<string> {
  const { id } = await draftPlan(plant.system, {
    key,
    title: `Plan ${key}`,
    revision: more.revision ?? "1",
    drawingRevisionId: plant.drawingRevisionId,
    readingNames: names.map(formatReadingName),
    frames: { kind: "all" },
    ...(more.settings === undefined ? {} : { settings: more.settings }),
  });
  await releasePlan(plant.system, id);
  return id;
}
const byPlan = (planRevisionId: string, names: readonly ReadingName[], serial = "T-0001"): RecordInspection => ({
  ...plant.inspection(serial),
  planRevisionId,
  readings: names.map(goodValue),
  gauges: testGauges(names),
});

describe("dilution", () => {
  it.each(["one after another", "in one request", "at once"])("does not let a frame pass: %s", async (how) => {
    for (const order of ["bad last", "bad first"] as const) {
      plant = await createTestPlant({ frames: 1 });
      const bad = again(all("bore", 41.05));
      const good = [again(), again(), again()];
      const list = order === "bad last" ? [...good, bad] : [bad, ...good];
      if (how === "in one request") await recordInspections(plant.system, list);
      else if (how === "at once") await Promise.all(list.map((one) => recordInspection(plant.system, one)));
      else for (const one of list) await recordInspection(plant.system, one);
      expect(await frame()).toMatchObject({ state: "held", verdict: "does not conform" });
      expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    }
  });

  it("names the two that disagree, on the frame and on its record", async () => {
    await recordInspection(plant.system, again());
    const outcome = await recordInspection(plant.system, again(all("width", 86.58)));
    expect(outcome).toMatchObject({ verdict: "conforms", frameVerdict: "not proven", held: true, batchHeld: true });
    const reason = outcome.reasons.find(({ name }) => name === "width")?.reason ?? "";
    expect(reason).toMatch(/inspection 1 of .*86\.500 mm.*inspection 2 of .*86\.580 mm/);
    const record = await getFrameRecord(await plant.as("auditor"), "T-0001");
    expect(record.judgement?.characteristics.find(({ name }) => name === "width")?.reason).toBe(reason);
  });

  it("holds a released frame at once, and opens an escape for a shipped one", async () => {
    await recordInspections(plant.system, [plant.inspection("T-0001"), plant.inspection("T-0002")]);
    await database.pool.query(sql`
      update frame set state = case serial when 'T-0001' then 'released' else 'shipped' end::"FrameState",
        shipped_at = case serial when 'T-0002' then now() end
      where plant_id = ${plant.plantId} and serial in ('T-0001', 'T-0002')`);
    await recordInspections(plant.system, [again(all("bore", 41.05)), again(all("bore", 41.05), "T-0002")]);
    expect(await frame()).toMatchObject({ state: "held" });
    expect(await frame("T-0002")).toMatchObject({ state: "shipped", verdict: "does not conform" });
    const { rows } = await database.pool.query(sql`select 1 from escape where plant_id = ${plant.plantId}`);
    expect(rows).toHaveLength(1);
  });

  it("keeps the hold while one of two bad inspections is withdrawn, and goes with the last", async () => {
    const bad = [again(all("bore", 41.05)), again(all("bore", 41.05))];
    await recordInspections(plant.system, [...bad, again(), again()]);
    const engineer = await plant.as("engineer");
    const withdraw = (one: RecordInspection | undefined) =>
      withdrawInspection(engineer, { id: one?.id ?? "", reason: "another shell was on the fixture" });
    expect(await withdraw(bad[0])).toMatchObject({ frameState: "held" });
    expect(await withdraw(bad[1])).toMatchObject({ frameState: "measured" });
  });

  it("leaves what arrives from before a rework on the record, deciding nothing", async () => {
    await recordInspection(plant.system, plant.inspection("T-0001", all("bore", 41.05)));
    await database.pool.query(sql`
      update frame set state = 'in_rework', evidence_from = now() where plant_id = ${plant.plantId} and serial = 'T-0001'`);
    const late = { ...again(), deviceTime: new Date(Date.now() - 3_600_000).toISOString() };
    expect(await recordInspection(plant.system, late)).toMatchObject({ frameState: "in_rework", held: false });
    expect(await frame()).toMatchObject({ state: "in_rework", verdict: "not measured" });
  });
});

describe("a shorter plan", () => {
  it("erases no proven failure", async () => {
    const bores = await release("BORES", BORES);
    const routine = await release("ROUTINE", routinePlan(PRESS_FIT_41));
    await recordInspection(plant.system, plant.inspection("T-0001", offset(151)));
    expect(await frame()).toMatchObject({ state: "held", verdict: "does not conform" });
    await recordInspection(plant.system, { ...byPlan(bores, BORES), reason: "shorter" });
    await recordInspection(plant.system, { ...byPlan(routine, routinePlan(PRESS_FIT_41)), reason: "shorter" });
    const now = await frame();
    expect(now).toMatchObject({ state: "held", verdict: "does not conform" });
    expect(now?.judgement.map(({ name }) => name)).toContain("coaxiality");
  });

  it("leaves a frame not measured, whoever names it, and says what is missing", async () => {
    const bores = await release("BORES", BORES);
    const outcome = await recordInspection(plant.system, byPlan(bores, BORES));
    expect(outcome).toMatchObject({ verdict: "conforms", frameVerdict: "not measured", held: true });
    expect(outcome.reasons.find(({ name }) => name === "coaxiality")?.reason).toContain(
      "plan P1 revision 1 asks for it",
    );
    // The rest, measured afterwards by a plan of its own, completes it.
    const rest = FULL.filter(({ kind }) => kind !== "bore");
    const other = await release("REST", rest);
    const completed = await recordInspection(plant.system, { ...byPlan(other, rest), reason: "the rest" });
    expect(completed).toMatchObject({ frameVerdict: "conforms", held: false });
  });

  it("counts where the batch's plan allows it by name", async () => {
    const bores = await release("BORES", BORES);
    await release("P1", FULL, { revision: "2", settings: { weakerPlans: ["BORES"] } });
    expect(await recordInspection(plant.system, byPlan(bores, BORES))).toMatchObject({ frameVerdict: "conforms" });
  });

  it("counts for what was begun before the batch's plan was revised, and not afterwards", async () => {
    plant = await createTestPlant({ frames: 3, plan: "routine" });
    const names = routinePlan(PRESS_FIT_41);
    const before = { ...byPlan(plant.planRevisionId, names), deviceTime: new Date().toISOString() };
    await new Promise((resolve) => setTimeout(resolve, 20));
    await release("P1", FULL, { revision: "2" });
    expect(await recordInspection(plant.system, before)).toMatchObject({ frameVerdict: "conforms" });
    const after = byPlan(plant.planRevisionId, names, "T-0002");
    expect(await recordInspection(plant.system, after)).toMatchObject({ frameVerdict: "not measured", held: true });
  });

  it("after paint is not asked for what was measured after machining", async () => {
    await createOperation(plant.system, { key: "painted", name: "after paint", position: 2 });
    const bench = { key: "S2", name: "Paint bench", line: "L1", operation: "painted", viewingSide: "ds" } as const;
    const station = await createStation(plant.system, bench);
    const bores = await release("BORES", BORES);
    await recordInspection(plant.system, plant.inspection("T-0001"));
    const painted = { ...byPlan(bores, BORES), stationId: station.id };
    expect(await recordInspection(plant.system, painted)).toMatchObject({ frameVerdict: "conforms", held: false });
  });
});

describe("a station", () => {
  const atAnotherLine = async () => {
    await createLine(plant.system, { key: "L2", name: "Line 2" });
    const bench = { key: "S9", name: "Bench 9", line: "L2", operation: "machined", viewingSide: "ds" } as const;
    return (await createStation(plant.system, bench)).id;
  };
  const signRelease = async (serial: string) => {
    const { rows } = await database.pool.query<{ id: string; version: number }>(sql`
      select b.id, b.version from batch b join frame f on f.plant_id = b.plant_id and f.batch_id = b.id
      where f.plant_id = ${plant.plantId} and f.serial = ${serial}`);
    return decideFrames(await plant.as("engineer"), {
      id: uuidV7(),
      batchId: rows[0]?.id ?? "",
      batchVersion: rows[0]?.version ?? 0,
      serials: [serial],
      disposition: "release",
      grounds: "it was the right frame, the other station was down",
      password: "x",
    });
  };

  it("of another line: readings are taken, and held until somebody says that it was the right frame", async () => {
    const stationId = await atAnotherLine();
    const outcome = await recordInspection(plant.system, { ...plant.inspection("T-0001"), stationId });
    expect(outcome.warnings.join()).toContain("is of line L1 and was measured at station S9 of line L2");
    expect(outcome).toMatchObject({ frameVerdict: "not proven", held: true });
    expect(new Set(outcome.reasons.map(({ code }) => code))).toEqual(new Set(["other-line"]));
    const shown = async () => (await getFrameRecord(await plant.as("engineer"), "T-0001")).judgement;
    expect((await shown())?.verdict).toBe("not proven");
    await signRelease("T-0001");
    expect(await frame()).toMatchObject({ state: "released" });
    expect((await shown())?.verdict).toBe("conforms");
  });

  it("of another line: what its own line measures needs no answer", async () => {
    const stationId = await atAnotherLine();
    await recordInspection(plant.system, { ...plant.inspection("T-0001"), stationId });
    expect(await recordInspection(plant.system, again())).toMatchObject({ frameVerdict: "conforms", held: false });
  });

  it("of another line: who was asked and said so before it was measured is kept, and nothing is held", async () => {
    const stationId = await atAnotherLine();
    const inspection = { ...plant.inspection("T-0001"), stationId, attributes: { otherLine: "L1" } };
    const outcome = await recordInspection(plant.system, inspection);
    expect(outcome).toMatchObject({ frameVerdict: "conforms", held: false, warnings: [] });
    const record = await getFrameRecord(await plant.as("engineer"), "T-0001");
    expect(record.judgement?.verdict).toBe("conforms");
    expect(record.inspections[0]).toMatchObject({ line: "L2", attributes: { otherLine: "L1" } });
    // A yes to another question is none.
    const wrong = { ...plant.inspection("T-0002"), stationId, attributes: { otherLine: "L3" } };
    expect(await recordInspection(plant.system, wrong)).toMatchObject({ frameVerdict: "not proven", held: true });
  });

  it("of another line: a frame that fails there is not released by saying that it was the right one", async () => {
    const stationId = await atAnotherLine();
    const bad = { ...plant.inspection("T-0001", all("bore", 41.05)), stationId };
    expect(await recordInspection(plant.system, bad)).toMatchObject({ frameVerdict: "does not conform", held: true });
    await expect(signRelease("T-0001")).rejects.toMatchObject({ code: "refused" });
  });

  it("takes a plan that was released a moment ago, and not by this process", async () => {
    await recordInspection(plant.system, plant.inspection("T-0001"));
    const planRevisionId = uuidV7();
    await database.pool.query(sql`
      insert into measuring_plan_revision (plant_id, id, plan_id, drawing_revision_id, revision, state, reading_names, frames,
        settings, created_at, released_at)
      select plant_id, ${planRevisionId}, plan_id, drawing_revision_id, '2', 'released', reading_names, frames, settings, now(), now()
      from measuring_plan_revision where plant_id = ${plant.plantId} and id = ${plant.planRevisionId}`);
    const outcome = await recordInspection(plant.system, { ...plant.inspection("T-0002"), planRevisionId });
    expect(outcome).toMatchObject({ frameVerdict: "conforms" });
  });
});

describe("a signed decision between inspections that disagree", () => {
  const wide = () => again(all("width", 86.58));
  const decide = (viewer: Awaited<ReturnType<TestPlant["as"]>>, setAside: readonly string[], id = uuidV7()) =>
    resolveDisagreement(viewer, {
      id,
      serial: "T-0001",
      setAside: [...setAside],
      grounds: "calliper was not square",
      password: "x",
    });

  it("sets one aside: the frame is judged by what is left, both stay on record, the journal vouches", async () => {
    const [good, bad] = [again(), wide()];
    await recordInspections(plant.system, [good, bad]);
    expect(await frame()).toMatchObject({ state: "held", verdict: "not proven" });
    const engineer = await plant.as("engineer");
    const id = uuidV7();
    expect(await decide(engineer, [bad.id], id)).toEqual({ frameState: "measured", verdict: "conforms" });
    expect(await decide(engineer, [bad.id], id)).toEqual({ frameState: "measured", verdict: "conforms" });
    const record = await getFrameRecord(engineer, "T-0001");
    expect(record.inspections).toHaveLength(2);
    expect(record.inspections.find((one) => one.id === bad.id)?.withdrawal?.reason).toContain("signed decision");
    const { rows } = await database.pool.query(sql`
      select kind::text as kind, evidence -> 'setAside' -> 0 ->> 'inspection' as aside, length(content_hash) as hash
      from decision where plant_id = ${plant.plantId}`);
    expect(rows).toEqual([{ kind: "resolve_disagreement", aside: bad.id, hash: 32 }]);
    expect((await verifyJournal(plant.plantId)).faults).toEqual([]);
    // A later one that disagrees opens the question again.
    expect(await recordInspection(plant.system, wide())).toMatchObject({ frameVerdict: "not proven", held: true });
  });

  it("is refused to who keyed either, by sign-in or by badge", async () => {
    const engineer = await plant.as("engineer", "inspector");
    const [good, bad] = [again(), { ...wide(), inspectorCode: engineer.personId }];
    await recordInspection(plant.system, good);
    await recordInspection(plant.system, bad);
    for (const id of [good.id, bad.id])
      expect(await refusalOf(decide(engineer, [id]))).toMatchObject({ code: "refused" });
    plant = await createTestPlant({ frames: 1 });
    const other = await plant.as("engineer", "inspector");
    const [first, second] = [again(), { ...wide(), inspectorCode: (await plant.as("inspector")).personId }];
    await recordInspection(plant.system, first);
    await recordInspection(other, second);
    expect(await refusalOf(decide(other, [first.id]))).toMatchObject({ code: "refused" });
    expect(await frame()).toMatchObject({ state: "held", verdict: "not proven" });
  });

  it("is refused where nothing disagrees, nothing would be left, or the rest disagrees still", async () => {
    const engineer = await plant.as("engineer");
    const [first, second, third] = [again(), wide(), again(all("width", 86.42))];
    await recordInspection(plant.system, first);
    expect(await refusalOf(decide(engineer, [first.id]))).toMatchObject({ code: "refused" });
    await recordInspections(plant.system, [second, third]);
    expect((await refusalOf(decide(engineer, [first.id]))).userMessage).toContain("disagrees still");
    expect((await refusalOf(decide(engineer, [first.id, second.id, third.id]))).userMessage).toContain("would be left");
    expect(await refusalOf(decide(engineer, [uuidV7()]))).toMatchObject({ code: "not-found" });
    expect(await refusalOf(decide(await plant.as("inspector"), [second.id]))).toMatchObject({ code: "forbidden" });
  });

  it("frees no frame whose remaining inspection does not conform", async () => {
    const [good, bad] = [again(), again(all("bore", 41.05))];
    await recordInspections(plant.system, [good, bad]);
    const outcome = await decide(await plant.as("engineer"), [good.id]);
    expect(outcome).toEqual({ frameState: "held", verdict: "does not conform" });
  });

  it("is what a release asks for: nobody who keyed releases instead", async () => {
    const engineer = await plant.as("engineer", "inspector");
    await recordInspection(plant.system, again());
    await recordInspection(plant.system, { ...wide(), inspectorCode: engineer.personId });
    const { rows } = await database.pool.query<{ id: string; version: number }>(sql`
      select id, version from batch where plant_id = ${plant.plantId}`);
    const [batch] = rows;
    if (!batch) throw new Error("the plant has no batch");
    const signed = { id: uuidV7(), batchId: batch.id, serials: ["T-0001"], grounds: "looks fine", password: "x" };
    const asked = { ...signed, disposition: "release" as const, batchVersion: batch.version };
    expect(await refusalOf(decideFrames(engineer, asked))).toMatchObject({ code: "refused" });
  });
});
