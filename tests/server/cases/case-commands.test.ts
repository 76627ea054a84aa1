import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { withDriftingGauge } from "@/lib/simulation/process-faults";
import { caseSteps } from "@/lib/quality/cases/case-steps";
import { GET as getCase } from "@/app/api/v1/cases/[id]/route";
import { readSchemes } from "@/lib/server/cases/alarm-scheme";
import { listCaseOwners } from "@/lib/server/cases/case-owners";
import {
  assignCaseCause,
  assignOwner,
  closeCase,
  noteStep,
  reopenCase,
  setBudget,
  tickStep,
} from "@/lib/server/cases/commands";
import { followLineCases } from "@/lib/server/cases/follow-line";
import { listCases, readCase } from "@/lib/server/cases/queries";
import { sql } from "@/lib/server/db/sql";
import { readBatchEvidence } from "@/lib/server/gate/read-batch-evidence";
import { recordInspections } from "@/lib/server/inspections/record-inspections";
import { verifyJournal } from "@/lib/server/journal/verify-journal";
import type { PersonViewer } from "@/lib/server/auth/viewer";
import { createSignIn, setTestEnvironment } from "../auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { createTestPlant, type TestPlant } from "../../helpers/plant";
import { SIMULATED_FROM, simulatedInspections } from "../../helpers/simulated-inspections";

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let inspector: PersonViewer;
let lineId: string;

const FRAMES = 260;
/** The gauge shows 8 µm too little from frame 120 on, and goes on to. */
const STEP_AT = 120;
const NOW = new Date(SIMULATED_FROM + 10 * 3_600_000);
const follow = () => followLineCases(plant.plantId, lineId, { isTold: true });

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant({ frames: FRAMES });
  [engineer, inspector] = [
    await createSignIn(plant.system, "engineer@plant.example", "engineer"),
    await createSignIn(plant.system, "inspector@plant.example", "inspector"),
  ];
  const { rows } = await database.pool.query<{ id: string }>(
    sql`select id from line where plant_id = ${plant.plantId}`,
  );
  lineId = rows[0]?.id ?? "";
  const all = simulatedInspections(plant, FRAMES, {
    seed: 7,
    at: (frame, process, measuring) => ({
      process,
      measuring: frame >= STEP_AT ? withDriftingGauge(measuring, -8) : measuring,
    }),
  });
  await recordInspections(plant.system, all, { now: NOW });
  await follow();
});
afterAll(async () => database.drop());

const only = async () => {
  const { cases } = await listCases(engineer);
  expect(cases).toHaveLength(1);
  const [found] = cases;
  if (found === undefined) throw new Error("no case");
  return found;
};

describe("a case", () => {
  it("is read with its causes, and a program reads the same", async () => {
    const { id } = await only();
    const page = await readCase(engineer, id);
    expect(page).toMatchObject({ number: 1, state: "open", overAt: null, line: "L1", owner: null, heldBatches: 0 });
    expect(page.found.causes[0]?.lnOdds).toBe(0);
    expect(page.streams.map(({ feature }) => feature)).toContain("ds.bore.mean");
    const answer = await getCase(new Request(`http://localhost:3000/api/v1/cases/${id}`), {
      params: Promise.resolve({ id }),
    });
    expect(answer.status).toBe(401);
  });

  it("informs Gate of itself where its frames are", async () => {
    const { rows } = await database.pool.query<{ id: string }>(
      sql`select id from batch where plant_id = ${plant.plantId}`,
    );
    const batch = await readBatchEvidence(database.pool, plant.plantId, rows[0]?.id ?? "");
    const told = [...(batch?.decision.reasons ?? []), ...(batch?.decision.notes ?? [])].filter(
      ({ code }) => code === "signal",
    );
    expect(told.map(({ text }) => text)).toEqual([expect.stringMatching(/^Case 1 is open, /)]);
  });

  it("gets an owner, steps and one cause, each by who may, and stays open", async () => {
    const { id: caseId } = await only();
    await expect(assignOwner(inspector, { caseId, ownerId: engineer.personId })).rejects.toMatchObject({
      code: "forbidden",
    });
    const dock = await createSignIn(plant.system, "dock@plant.example", "dock");
    await expect(assignOwner(engineer, { caseId, ownerId: dock.personId })).rejects.toMatchObject({
      code: "not-found",
    });
    expect((await listCaseOwners(engineer)).map(({ name }) => name)).not.toContain(dock.name);
    await assignOwner(engineer, { caseId, ownerId: engineer.personId });
    await noteStep(inspector, { caseId, text: "Zero of TB-1 checked: 8 µm low" });
    await assignCaseCause(engineer, { caseId, cause: "gauge" });
    expect(await only()).toMatchObject({ state: "open", owner: engineer.name, cause: "gauge" });
  });

  it("has steps that are to be done, and each is ticked once, by whom and with what was found", async () => {
    const { id: caseId } = await only();
    await noteStep(engineer, { caseId, text: "Measure one frame with the other gauge", isPlanned: true });
    const planned = caseSteps((await readCase(engineer, caseId)).entries).find(({ done }) => done === null);
    expect(planned).toMatchObject({ text: "Measure one frame with the other gauge", by: engineer.name });
    const stepId = planned?.id ?? "";
    const noted = caseSteps((await readCase(engineer, caseId)).entries).find(({ id }) => id !== stepId);
    expect(noted?.done).toMatchObject({ by: inspector.name });
    await tickStep(inspector, { caseId, stepId, found: "The other one shows 8 µm more" });
    await expect(tickStep(engineer, { caseId, stepId })).rejects.toMatchObject({ code: "conflict" });
    await expect(tickStep(engineer, { caseId, stepId: noted?.id ?? "" })).rejects.toMatchObject({ code: "not-found" });
    await expect(tickStep(engineer, { caseId, stepId: caseId })).rejects.toMatchObject({ code: "not-found" });
    const dock = await createSignIn(plant.system, "dock2@plant.example", "dock");
    await expect(tickStep(dock, { caseId, stepId })).rejects.toMatchObject({ code: "forbidden" });
    const done = caseSteps((await readCase(engineer, caseId)).entries).find(({ id }) => id === stepId)?.done;
    expect(done).toMatchObject({ by: inspector.name, found: "The other one shows 8 µm more" });
  });

  it("takes no cause that the readings exclude, and none that is not in the list", async () => {
    const found = await only();
    const excluded = found.found.causes.find(({ lnOdds }) => lnOdds === null);
    expect(excluded).toBeDefined();
    const assign = (cause: string) => assignCaseCause(engineer, { caseId: found.id, cause });
    await expect(assign(excluded?.cause ?? "")).rejects.toMatchObject({ code: "refused" });
    await expect(assign("bad luck")).rejects.toMatchObject({ code: "invalid-input" });
    await assign("own: coolant");
    await assign("gauge");
    expect(await only()).toMatchObject({ cause: "gauge" });
  });

  it("is closed with a new level, whose frames are normal from the change on", async () => {
    const { id: caseId } = await only();
    await closeCase(engineer, { caseId, reason: "Reground to the new size", hasNewLevel: true });
    await expect(closeCase(engineer, { caseId, reason: "once more", hasNewLevel: false })).rejects.toMatchObject({
      code: "refused",
    });
    await follow();
    expect(await only()).toMatchObject({ state: "closed", cause: "gauge" });
    const { rows } = await database.pool.query<{ baseline: string[]; waits: boolean }>(sql`
      select s -> 'running' -> 'baseline' as baseline, s -> 'running' is null as waits from alarm_state a, jsonb_array_elements(a.streams -> 'streams') s
      where a.plant_id = ${plant.plantId} and a.place = 200 and s ->> 'key' = 'ds.bore.mean'`);
    const { rows: first } = await database.pool.query<{ serial: string }>(sql`
      select f.serial from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
      where i.plant_id = ${plant.plantId} and i.id = ${rows[0]?.baseline[0]}`);
    expect(Math.abs(Number(first[0]?.serial.slice(2)) - 1 - STEP_AT)).toBeLessThanOrEqual(3);
  });

  it("is opened again by a person who says why", async () => {
    const { id: caseId } = await only();
    await reopenCase(engineer, { caseId, reason: "It was the gauge after all" });
    expect(await only()).toMatchObject({ state: "open", closedAt: null });
    const { entries } = await readCase(engineer, caseId);
    expect(entries.map(({ kind }) => kind)).toEqual([
      "opened",
      "owner",
      "step",
      "cause",
      "step",
      "ticked",
      "cause",
      "cause",
      "closed",
      "reopened",
    ]);
    expect(entries.map(({ by }) => by)).toContain(inspector.name);
  });

  it("is listed by state, line and page", async () => {
    expect((await listCases(engineer, { open: "false" })).cases).toEqual([]);
    expect((await listCases(engineer, { line: "L2" })).cases).toEqual([]);
    expect(await listCases(engineer, { before: 1 })).toEqual({ cases: [], next: null });
    expect((await listCases(engineer, { since: "2027-01-01T00:00:00Z" })).cases).toEqual([]);
  });
});

describe("the budget", () => {
  it("is one false case a week until somebody sets it, and a version each time", async () => {
    expect(await readSchemes(database.pool, plant.plantId)).toMatchObject([{ version: 1, budget: 1, reason: "first" }]);
    await expect(setBudget(inspector, { budget: 2 })).rejects.toMatchObject({ code: "forbidden" });
    await setBudget(engineer, { budget: 2 });
    const [newest, first] = await readSchemes(database.pool, plant.plantId);
    expect(newest).toMatchObject({ version: 2, budget: 2, reason: "budget" });
    // the rates of equal streams add up to the budget: A = f x streams / B, never under 370; worked by hand
    for (const [at, { frames, runLength }] of (first?.streams ?? []).entries()) {
      const streams = first?.streams.length ?? 0;
      expect(runLength).toBeCloseTo(Math.max(370, frames * streams), 6);
      expect(newest?.streams[at]?.runLength).toBeCloseTo(Math.max(370, (frames * streams) / 2), 6);
    }
  });
});

it("leaves a journal that verifies", async () => {
  expect(await verifyJournal(plant.plantId)).toMatchObject({ faults: [] });
});
