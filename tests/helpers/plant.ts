import { fullPlan, routinePlan } from "@/lib/core/metrology/measuring-plan";
import { formatReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { PRESS_FIT_41 } from "@/lib/quality/demonstration-drawings";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { DraftPlan } from "@/lib/schemas/plan";
import type { Role } from "@/lib/schemas/people";
import type { PersonViewer, SystemViewer } from "@/lib/server/auth/viewer";
import { getPool } from "@/lib/server/db/client";
import { sql } from "@/lib/server/db/sql";
import { createGauge } from "@/lib/server/gauges/change-gauges";
import {
  createLine,
  createOperation,
  createStation,
  createSupplier,
  createFrameModel,
} from "@/lib/server/plant/create-parts";
import { draftDrawing, releaseDrawing } from "@/lib/server/drawings/commands";
import { draftPlan, releasePlan } from "@/lib/server/plans/commands";
import { createBatch } from "@/lib/server/batches/commands";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { recordInspections } from "@/lib/server/inspections/record-inspections";

/** Everything a test of Line or Gate starts from: one line, one station, one plan, one batch of frames T-0001 to T-0012. */
export type TestPlant = {
  readonly plantId: string;
  readonly system: SystemViewer;
  readonly as: (...roles: Role[]) => Promise<PersonViewer>;
  readonly stationId: string;
  readonly planRevisionId: string;
  readonly drawingRevisionId: string;
  readonly names: readonly ReadingName[];
  /** A conforming inspection of a frame; `change` alters single readings by name. */
  readonly inspection: (serial: string, change?: Readonly<Record<string, number | null>>) => RecordInspection;
};

export const TEST_BATCH = "T-BATCH";

/** A value that conforms for any reading of press-fit 41. */
export function goodValue(name: ReadingName): number | null {
  if (name.kind === "bore") return 40.975;
  if (name.kind === "width") return 86.5;
  if (name.kind === "sweep" || name.kind === "face") return 0;
  return null;
}

/** Gauges of the test plant by what they measure; calibrated for ten years. */
export const TEST_GAUGES = {
  bore: "TB-1",
  sweep: "TI-1",
  face: "TI-2",
  width: "TW-1",
  plug: "TP-S",
  bar: "TG-B",
} as const;

/** The test plant's gauge of each reading. */
export function testGauges(names: readonly ReadingName[]): string[] {
  return names.map(({ kind }) => TEST_GAUGES[kind]);
}

/** The same gauges with another one for the bores. */
export function boresBy(names: readonly ReadingName[], gauge: string): string[] {
  return testGauges(names).map((key) => (key === TEST_GAUGES.bore ? gauge : key));
}

async function addTestGauges(system: SystemViewer): Promise<void> {
  const calibrated = { calibratedAt: "2020-01-01T00:00:00Z", calibratedUntil: "2029-12-31T00:00:00Z" };
  const indicator = { principle: "indicator", resolutionUm: 0.5, rangeLower: -20_000, rangeUpper: 20_000 } as const;
  const [bore, sweep, face, width] = [TEST_GAUGES.bore, TEST_GAUGES.sweep, TEST_GAUGES.face, TEST_GAUGES.width];
  await createGauge(system, {
    key: bore,
    name: "Test bore",
    kind: "bore",
    principle: "two-point",
    resolutionUm: 1,
    rangeLower: 35,
    rangeUpper: 50,
    ...calibrated,
  });
  const [plug, bar] = [TEST_GAUGES.plug, TEST_GAUGES.bar];
  const felt = { resolutionUm: 1, ...calibrated } as const;
  await createGauge(system, { key: plug, name: "Test plugs", kind: "plug", principle: "plain plug", ...felt });
  await createGauge(system, { key: bar, name: "Test bars", kind: "bar", principle: "bar", ...felt });
  await createGauge(system, { key: sweep, name: "Test sweep", kind: "sweep", ...indicator, ...calibrated });
  await createGauge(system, { key: face, name: "Test face", kind: "face", ...indicator, ...calibrated });
  await createGauge(system, {
    key: width,
    name: "Test width",
    kind: "width",
    principle: "caliper",
    resolutionUm: 5,
    rangeLower: 0,
    rangeUpper: 150,
    ...calibrated,
  });
}

export async function createTestPlant(
  options: { frames?: number; plan?: "full" | "routine" } = {},
): Promise<TestPlant> {
  const { frames = 12, plan = "full" } = options;
  const plantId = uuidV7();
  await getPool().query(sql`
    insert into plant (id, key, name, time_zone, invented) values (${plantId}, ${plantId.slice(-12)}, 'Test plant', 'UTC', true)`);
  const system: SystemViewer = { kind: "system", plantId, plantZone: "UTC", name: "test" };
  await createLine(system, { key: "L1", name: "Line 1" });
  await createOperation(system, { key: "machined", name: "after machining", position: 1 });
  const station = await createStation(system, {
    key: "S1",
    name: "Station 1",
    line: "L1",
    operation: "machined",
    viewingSide: "ds",
  });
  await createSupplier(system, { key: "SUP", name: "Test supplier" });
  await addTestGauges(system);
  const drawing = await draftDrawing(system, { drawing: JSON.parse(JSON.stringify(PRESS_FIT_41)) });
  await releaseDrawing(system, drawing.id);
  const names = plan === "full" ? fullPlan(PRESS_FIT_41) : routinePlan(PRESS_FIT_41);
  const readingNames = names.map(formatReadingName);
  const revision = await draftPlan(system, {
    key: "P1",
    title: "Plan 1",
    revision: "1",
    drawingRevisionId: drawing.id,
    readingNames,
    frames: { kind: "all" },
  });
  await releasePlan(system, revision.id);
  await createFrameModel(system, { key: "M1", name: "Model 1", drawing: PRESS_FIT_41.key });
  await createBatch(system, {
    key: TEST_BATCH,
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: "P1",
    serials: Array.from({ length: frames }, (_, index) => ({ serial: `T-${String(index + 1).padStart(4, "0")}` })),
  });
  const as = async (...roles: Role[]): Promise<PersonViewer> => {
    const personId = uuidV7();
    const name = `Test ${roles.join(" ")}`;
    await getPool().query(sql`insert into person (plant_id, id, name) values (${plantId}, ${personId}, ${name})`);
    return { kind: "person", plantId, plantZone: "UTC", personId, name, roles };
  };
  return {
    plantId,
    system,
    as,
    stationId: station.id,
    planRevisionId: revision.id,
    drawingRevisionId: drawing.id,
    names,
    inspection: (serial, change = {}) => ({
      id: uuidV7(),
      serial,
      stationId: station.id,
      planRevisionId: revision.id,
      readings: names.map((name, index) => {
        const changed = change[readingNames[index] ?? ""];
        return changed === undefined ? goodValue(name) : changed;
      }),
      gauges: testGauges(names),
      deviceTime: new Date().toISOString(),
    }),
  };
}

/** Releases a revision of the plant's plan that asks for these frames of a batch. */
export async function askForFrames(plant: TestPlant, frames: DraftPlan["frames"]): Promise<void> {
  const { id } = await draftPlan(plant.system, {
    key: "P1",
    title: "Plan 1",
    revision: "2",
    drawingRevisionId: plant.drawingRevisionId,
    readingNames: plant.names.map(formatReadingName),
    frames,
  });
  await releasePlan(plant.system, id);
}

const HOUR_MS = 3_600_000;

/**
 * Measures another batch whole, before the plant's own: a line that varies about the middle of its limits, with bores of this
 * standard deviation; alignment and tilt well within theirs. Serials H-0001 and on.
 */
export async function measureHistory(plant: TestPlant, frames: number, boreSdMm = 0.003): Promise<void> {
  const serials = Array.from({ length: frames }, (_, place) => `H-${String(place + 1).padStart(4, "0")}`);
  await createBatch(plant.system, {
    key: "HISTORY",
    supplier: "SUP",
    model: "M1",
    line: "L1",
    plan: "P1",
    serials: serials.map((serial) => ({ serial })),
  });
  const random = createSeededGenerator(12);
  const start = Date.now() - 10 * HOUR_MS;
  const inspections = serials.map((serial, place): RecordInspection => {
    const good = plant.inspection(serial);
    const bore = { ds: boreSdMm * random.normal(), nds: boreSdMm * random.normal() };
    const offset = [4 * random.normal(), 4 * random.normal()] as const;
    const tilt = [0.15 * random.normal(), 0.15 * random.normal()] as const;
    const readings = good.readings.map((reading, at) => {
      const name = plant.names[at];
      if (reading === null || name === undefined) return null;
      if (name.kind === "bore") return reading + bore[name.seat] + 0.0004 * random.normal();
      if (name.kind !== "sweep") return reading;
      const angle = (name.angleDeg * Math.PI) / 180;
      const [twelve, three] = [offset[0] + tilt[0] * name.depthMm, offset[1] + tilt[1] * name.depthMm];
      return twelve * Math.cos(angle) + three * Math.sin(angle);
    });
    return { ...good, readings, deviceTime: new Date(start + place * 60_000).toISOString() };
  });
  const outcomes = await recordInspections(plant.system, inspections);
  const refused = outcomes.filter(({ status }) => status !== "recorded");
  if (refused.length > 0) throw new Error(`the history was not recorded: ${JSON.stringify(refused[0])}`);
}
