import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import { shellDrawingSchema } from "@/lib/schemas/drawing";
import type { RecordInspection } from "@/lib/schemas/inspection";
import { sql } from "@/lib/server/db/sql";
import { acceptSampleRisk } from "@/lib/server/gate/accept-sample-risk";
import { decideFrames } from "@/lib/server/gate/commands";
import { recordInspection, recordInspections } from "@/lib/server/inspections/record-inspections";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { enquireFrame } from "@/lib/server/shipments/ship-frame";
import { createTestDatabase, type TestDatabase } from "../../helpers/database";
import { askForFrames, boresBy, createTestPlant, testGauges, type TestPlant } from "../../helpers/plant";

// Limits and U of press-fit 41 (invented): bore 40.950 to 41.000 mm, U 5.9 µm.
vi.mock("@/lib/server/auth/signature", () => ({ assertSigned: (viewer: unknown) => Promise.resolve(viewer) }));

let database: TestDatabase;
let plant: TestPlant;
beforeAll(async () => {
  database = await createTestDatabase();
});
afterAll(async () => database.drop());

const frame = async (serial = "T-0001") =>
  (
    await database.pool.query<{
      state: string;
      verdict: string | null;
      judgement: { name: string; reason?: string }[];
    }>(
      sql`select state::text as state, verdict, judgement from frame where plant_id = ${plant.plantId} and serial = ${serial}`,
    )
  ).rows[0];
const dockAnswer = async (serial = "T-0001") => {
  const { answer, reasons } = await enquireFrame(await plant.as("dock"), serial);
  return { answer, codes: reasons.map(({ code }) => code) };
};
const signed = async (serials: readonly string[]) => {
  const { rows } = await database.pool.query<{ id: string; version: number }>(
    sql`select id, version from batch where plant_id = ${plant.plantId}`,
  );
  const batch = rows[0] ?? { id: "", version: 0 };
  const grounds = "agreed with the customer";
  return {
    id: uuidV7(),
    grounds,
    password: "x",
    batchId: batch.id,
    batchVersion: batch.version,
    serials: [...serials],
  };
};
const bores = (size: number): Record<string, number> =>
  Object.fromEntries(
    plant.names.filter(({ kind }) => kind === "bore").map((name) => [formatReadingName(name), size] as const),
  );

async function draftWith(characteristics: ShellDrawing["characteristics"], revision: string): Promise<string> {
  const drawing: unknown = JSON.parse(JSON.stringify({ ...PRESS_FIT_41, characteristics, revision }));
  const { id } = await draftDrawing(plant.system, { drawing: shellDrawingSchema.parse(drawing) });
  return id;
}

/** A parallel offset of the NDS seat towards 12 o'clock, µm. */
const offset = (um: number): Record<string, number> =>
  Object.fromEntries(
    plant.names.flatMap((name) =>
      name.kind === "sweep" ? [[formatReadingName(name), um * Math.cos((name.angleDeg * Math.PI) / 180)] as const] : [],
    ),
  );

const firstSweep = (): string => {
  const name = plant.names.find(({ kind }) => kind === "sweep");
  return name === undefined ? "" : formatReadingName(name);
};

/** Releases a revision of the test drawing with other limits of the bore. */
async function reviseBore(revision: string, upper: number): Promise<string> {
  const characteristics = PRESS_FIT_41.characteristics.map((one) => (one.name === "bore" ? { ...one, upper } : one));
  const id = await draftWith(characteristics, revision);
  await releaseDrawing(plant.system, id);
  return id;
}
async function plan(key: string, revision: string, drawingRevisionId: string, names: readonly ReadingName[]) {
  const { id } = await draftPlan(plant.system, {
    key,
    title: `Plan ${key}`,
    revision,
    drawingRevisionId,
    readingNames: names.map(formatReadingName),
    frames: { kind: "all" },
  });
  await releasePlan(plant.system, id);
  return id;
}

describe("a drawing that was tightened", () => {
  beforeEach(async () => {
    plant = await createTestPlant({ frames: 3 });
  });

  const tighten = async () => plan("P1", "2", await reviseBore("B", 40.98), plant.names);

  it("judges what is measured by another plan, bound to its wider revision", async () => {
    const wide = await plan("P2", "1", plant.drawingRevisionId, plant.names);
    await tighten();
    const one = { ...plant.inspection("T-0001", bores(40.99)), planRevisionId: wide };
    await recordInspection(plant.system, one);
    expect(await frame()).toMatchObject({ state: "held", verdict: "does not conform" });
    expect((await dockAnswer()).answer).toBe("stop");
  });

  it("judges what is measured by the plan's own former revision after the new one was released", async () => {
    await tighten();
    await recordInspections(plant.system, [
      plant.inspection("T-0001", bores(40.99)),
      plant.inspection("T-0002", bores(40.97)),
    ]);
    expect(await frame()).toMatchObject({ state: "held", verdict: "does not conform" });
    expect(await frame("T-0002")).toMatchObject({ state: "measured", verdict: "conforms" });
  });

  it("leaves what was measured before it as it was judged", async () => {
    const before = plant.inspection("T-0001", bores(40.99));
    await recordInspection(plant.system, before);
    await tighten();
    expect(await frame()).toMatchObject({ state: "measured", verdict: "conforms" });
    const late = { ...plant.inspection("T-0002", bores(40.99)), deviceTime: before.deviceTime };
    await recordInspection(plant.system, late);
    expect(await frame("T-0002")).toMatchObject({ state: "measured", verdict: "conforms" });
  });
});

describe("a gauge out of calibration", () => {
  it("holds its frame until the inspection is withdrawn, whatever a good gauge measured since", async () => {
    plant = await createTestPlant({ frames: 2 });
    await createGauge(plant.system, {
      key: "TB-OLD",
      name: "Overdue bore",
      kind: "bore",
      principle: "two-point",
      resolutionUm: 1,
      rangeLower: 35,
      rangeUpper: 50,
      calibratedAt: "2020-01-01T00:00:00Z",
      calibratedUntil: "2021-01-01T00:00:00Z",
    });
    const old: RecordInspection = { ...plant.inspection("T-0001"), gauges: boresBy(plant.names, "TB-OLD") };
    expect(await recordInspection(plant.system, old)).toMatchObject({ held: true });
    const good = { ...plant.inspection("T-0001"), reason: "measured again" };
    expect(await recordInspection(plant.system, good)).toMatchObject({ held: true, frameState: "held" });
    const engineer = await plant.as("engineer");
    const left = await withdrawInspection(engineer, { id: old.id, reason: "gauge out of calibration" });
    expect(left).toMatchObject({ frameState: "measured" });
  });
});

describe("a sample", () => {
  const serialOf = (place: number) => `T-${String(place).padStart(4, "0")}`;
  const SAMPLED = [1, 4, 8].map(serialOf);
  beforeEach(async () => {
    plant = await createTestPlant({ frames: 8, plan: "routine" });
    await askForFrames(plant, { kind: "every", n: 4, firstOff: true });
  });

  it.each(["scrap", "return_to_supplier"] as const)("is not got rid of unmeasured by a %s", async (disposition) => {
    const manager = await plant.as("supplier_manager");
    await decideFrames(manager, { ...(await signed(SAMPLED)), disposition });
    expect(await dockAnswer(serialOf(2))).toEqual({ answer: "stop", codes: ["capability", "batch-incomplete"] });
    // Others are measured in their place.
    await recordInspections(
      plant.system,
      [2, 3, 5].map((place) => plant.inspection(serialOf(place))),
    );
    expect((await dockAnswer(serialOf(6))).codes).toEqual(["capability"]);
    await acceptSampleRisk(manager, await signed([]));
    expect((await dockAnswer(serialOf(6))).answer).toBe("go");
  });
});

describe("a signed release", () => {
  it.each(["nothing", "what is against the frame"])("does not outlive its evidence: %s is left", async (left) => {
    plant = await createTestPlant({ frames: 1 });
    const open = plant.inspection("T-0001", bores(40.996));
    const also = { ...plant.inspection("T-0001", bores(40.997)), reason: "measured again" };
    await recordInspections(plant.system, left === "nothing" ? [open] : [open, also]);
    expect(await frame()).toMatchObject({ state: "held", verdict: "not proven" });
    const manager = await plant.as("supplier_manager");
    await decideFrames(manager, { ...(await signed(["T-0001"])), disposition: "release" });
    const engineer = await plant.as("engineer");
    await withdrawInspection(engineer, { id: open.id, reason: "another shell was on the fixture" });
    expect(await frame()).toMatchObject({ state: left === "nothing" ? "unmeasured" : "held" });
    expect((await dockAnswer()).answer).toBe("stop");
  });
});

describe("a characteristic that is not critical", () => {
  let revised: string;
  beforeEach(async () => {
    plant = await createTestPlant({ frames: 1 });
    const id = await draftWith(
      PRESS_FIT_41.characteristics.map((one) => ({ ...one, critical: false })),
      "B",
    );
    await releaseDrawing(plant.system, id);
    revised = await plan("P1", "2", id, plant.names);
  });

  it.each([
    ["a warm shell", { temperatureC: 31 }, () => bores(41.05)],
    ["one reading that its sweep rejects", {}, () => ({ ...offset(30), [firstSweep()]: 230 })],
  ])("holds where it fails by its numbers beside %s", async (_, attributes, change) => {
    await recordInspection(plant.system, {
      ...plant.inspection("T-0001", change()),
      planRevisionId: revised,
      gauges: testGauges(plant.names),
      attributes,
    });
    expect(await frame()).toMatchObject({ state: "held", verdict: "not proven" });
  });
});
