import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { createPlant, createSignIn, PASSWORD, setTestEnvironment } from "@/tests/server/auth/plant-fixture";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { createTestPlant, type TestPlant } from "@/tests/helpers/plant";
import type { PersonViewer, Viewer } from "@/lib/server/auth/viewer";
import { changeBadge, createPerson, deactivatePerson, setPassword } from "@/lib/server/people/commands";
import { listPeople } from "@/lib/server/people/queries";
import { createBatch } from "@/lib/server/batches/commands";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { createFrameModel } from "@/lib/server/plant/create-parts";
import { draftPlan } from "@/lib/server/plans/commands";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { addCalibration } from "@/lib/server/gauges/add-calibration";
import { createSettingRing } from "@/lib/server/gauges/change-gauges";
import { listNewestBatches } from "@/lib/server/batches/queries";
import { listGauges } from "@/lib/server/gauges/register";

let database: TestDatabase;
let plant: TestPlant;
let engineer: PersonViewer;
let inspector: PersonViewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  plant = await createTestPlant();
  engineer = await plant.as("engineer");
  inspector = await plant.as("inspector");
});
afterAll(() => database.drop());

describe("batches", () => {
  const batch = (key: string, serials: readonly string[]) => ({
    key,
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: "P1",
    serials: serials.map((serial) => ({ serial })),
  });

  it("are opened with their frames in order", async () => {
    await createBatch(engineer, batch("B1", ["X-2", "X-1"]));
    const listed = (await listNewestBatches(engineer)).find((one) => one.key === "B1");
    expect(listed).toMatchObject({ frames: 2, firstSerial: "X-2", lastSerial: "X-1", plan: "P1", line: "L1" });
  });

  it("name the serials that are known already, and change nothing", async () => {
    const again = createBatch(engineer, batch("B2", ["X-9", "T-0003"]));
    await expect(again).rejects.toMatchObject({
      code: "conflict",
      fields: [{ path: "serials[1]", message: "T-0003 is in batch T-BATCH already" }],
    });
    expect((await database.pool.query("select 1 from frame where serial = 'X-9'")).rows).toEqual([]);
    expect((await listNewestBatches(engineer)).map((one) => one.key)).not.toContain("B2");
  });

  it("need a released plan for the model's drawing", async () => {
    const drawing = await draftDrawing(plant.system, {
      drawing: { ...(await firstDrawing()), key: "another" },
      isNew: true,
    });
    await releaseDrawing(plant.system, drawing.id);
    await createFrameModel(plant.system, { key: "M2", name: "Model 2", drawing: "another" });
    const wrong = createBatch(engineer, { ...batch("B3", ["Y-1"]), model: "M2" });
    await expect(wrong).rejects.toMatchObject({ code: "refused", fields: [{ path: "plan" }] });
    await draftPlan(plant.system, {
      key: "P-DRAFT",
      title: "Draft only",
      revision: "1",
      drawingRevisionId: plant.drawingRevisionId,
      readingNames: ["ds.bore.2@12-6"],
      frames: { kind: "all" },
    });
    const early = createBatch(engineer, { ...batch("B3", ["Y-1"]), plan: "P-DRAFT" });
    await expect(early).rejects.toMatchObject({ code: "refused", message: expect.stringContaining("not released") });
  });

  it("are opened by engineers only, with keys of this plant", async () => {
    await expect(createBatch(inspector, batch("B4", ["Z-1"]))).rejects.toMatchObject({ code: "forbidden" });
    const unknown = createBatch(engineer, { ...batch("B4", ["Z-1"]), supplier: "nobody" });
    await expect(unknown).rejects.toMatchObject({ code: "not-found" });
  });
});

async function firstDrawing() {
  const { rows } = await database.pool.query("select content from drawing_revision where id = $1", [
    plant.drawingRevisionId,
  ]);
  return rows[0].content;
}

describe("gauges and rings", () => {
  it("are made with their ring, and a calibration proves them until it is due", async () => {
    await createSettingRing(engineer, { key: "RING-41", certifiedSizeMm: 41.0012, uncertaintyUm: 0.8 });
    await createGauge(engineer, {
      key: "BG-1",
      name: "Bore gauge",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
      station: "S1",
      ring: "RING-41",
    });
    const at = new Date(Date.now() - 3_600_000).toISOString();
    const dueAt = new Date(Date.now() + 86_400_000).toISOString();
    await addCalibration(engineer, { gauge: "BG-1", at, dueAt, biasUm: 0.4, certificate: "K-2041" });
    const listed = (await listGauges(engineer)).find((one) => one.key === "BG-1");
    expect(listed).toMatchObject({
      ring: "RING-41",
      ringMm: 41.0012,
      station: "S1",
      calibrations: [{ at, dueAt, biasUm: 0.4, certificate: "K-2041" }],
    });
  });

  it("refuse a key that is taken, a calibration to come, an unknown gauge, and an inspector", async () => {
    const ring = { key: "RING-41", certifiedSizeMm: 41, uncertaintyUm: 1 };
    await expect(createSettingRing(engineer, ring)).rejects.toMatchObject({
      code: "conflict",
      fields: [{ path: "key" }],
    });
    const day = (days: number) => new Date(Date.now() + days * 86_400_000).toISOString();
    const calibration = { gauge: "BG-1", at: day(1), dueAt: day(2), biasUm: null, certificate: "" };
    await expect(addCalibration(engineer, calibration)).rejects.toMatchObject({ fields: [{ path: "at" }] });
    const past = { ...calibration, at: day(-1) };
    await expect(addCalibration(engineer, { ...past, gauge: "nix" })).rejects.toMatchObject({ code: "not-found" });
    await expect(addCalibration(inspector, past)).rejects.toMatchObject({ code: "forbidden" });
    await expect(createSettingRing(inspector, { ...ring, key: "R2" })).rejects.toMatchObject({ code: "forbidden" });
  });
});

describe("passwords and badges that an administrator gives", () => {
  let boss: PersonViewer;
  let person: PersonViewer;
  beforeAll(async () => {
    const system: Viewer = plant.system;
    boss = await createSignIn(system, "boss@plant.example", "administrator");
    person = await createSignIn(system, "ines@plant.example", "inspector");
  });

  it("set a new password, end the sessions and say so in the journal", async () => {
    await database.pool.query(
      `insert into auth_session (id, token, expires_at, user_id, updated_at)
       select 's1', 't1', now() + interval '1 day', user_id, now() from person where id = $1`,
      [person.personId],
    );
    await setPassword(boss, { personId: person.personId, newPassword: "another-long-password" });
    expect((await database.pool.query("select 1 from auth_session where id = 's1'")).rows).toEqual([]);
    const journal = await database.pool.query("select payload from journal_entry where action = 'person.password-set'");
    expect(journal.rows).toEqual([{ payload: { personId: person.personId, name: "ines" } }]);
    expect(JSON.stringify(journal.rows)).not.toContain("another-long-password");
  });

  it("refuse a short one, their own, somebody without a sign-in, and an engineer", async () => {
    const set = (viewer: Viewer, personId: string, newPassword = PASSWORD) =>
      setPassword(viewer, { personId, newPassword });
    await expect(set(boss, person.personId, "short")).rejects.toMatchObject({ code: "invalid-input" });
    await expect(set(boss, boss.personId)).rejects.toMatchObject({ code: "refused" });
    const { personId } = await createPerson(boss, { name: "Tavin", roles: ["inspector"], badgeCode: "B-1" });
    await expect(set(boss, personId)).rejects.toMatchObject({ code: "refused" });
    await expect(set(engineer, person.personId)).rejects.toMatchObject({ code: "forbidden" });
  });

  it("change their own badge with their password only", async () => {
    const own = { personId: boss.personId, badgeCode: "B-9" };
    for (const password of [{}, { password: "not-my-password" }])
      await expect(changeBadge(boss, { ...own, ...password })).rejects.toMatchObject({ code: "sign-in-refused" });
    await changeBadge(boss, { ...own, password: PASSWORD });
    expect((await listPeople(boss)).find((one) => one.personId === boss.personId)?.badgeCode).toBe("B-9");
  });

  it("change a badge, but not to somebody else's", async () => {
    await changeBadge(boss, { personId: person.personId, badgeCode: "B-2" });
    const badge = async () => (await listPeople(boss)).find((one) => one.personId === person.personId)?.badgeCode;
    expect(await badge()).toBe("B-2");
    const taken = changeBadge(boss, { personId: person.personId, badgeCode: "B-1" });
    await expect(taken).rejects.toMatchObject({ code: "conflict", fields: [{ path: "badgeCode" }] });
    expect(await badge()).toBe("B-2");
    await expect(changeBadge(engineer, { personId: person.personId, badgeCode: "" })).rejects.toMatchObject({
      code: "forbidden",
    });
    await deactivatePerson(boss, { personId: person.personId });
    const late = changeBadge(boss, { personId: person.personId, badgeCode: "B-3" });
    await expect(late).rejects.toMatchObject({ code: "refused" });
  });
});
