import "server-only";
import { AppError } from "@/lib/errors";
import { CHARACTERISTIC_UNIT, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import { CoreError } from "@/lib/core/errors";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { formatReadingName, parseReadingName, type ReadingName } from "@/lib/core/metrology/reading-name";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { uuidV7 } from "@/lib/schemas/identifier";
import {
  shellDrawingSchema,
  type CreateBatch,
  type CreateFrameModel,
  type CreateGauge,
  type CreateLine,
  type CreateOperation,
  type CreateStation,
  type CreateSupplier,
  type DraftDrawing,
  type DraftPlan,
} from "@/lib/schemas/setup";
import type pg from "pg";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { momentDone } from "../moment";
import { subjectsOf } from "../journal/row-hashes";
import { canonicalJson } from "../journal/canonical-json";
import { parseInput } from "../parse-input";
import { changeSetup, idInUse, idOf } from "./change-setup";
import { getPlantZone } from "./queries";

export type Made = { readonly id: string };

/** Creates a line. */
export async function createLine(viewer: Viewer, input: CreateLine, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return changeSetup(viewer, { action: "line.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(
      sql`insert into line (plant_id, id, key, name) values (${viewer.plantId}, ${id}, ${input.key}, ${input.name})`,
    );
    return { id };
  });
}

/** Creates an operation: a place in the route where frames are measured. */
export async function createOperation(viewer: Viewer, input: CreateOperation, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return changeSetup(viewer, { action: "operation.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into operation (plant_id, id, key, name, position)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name}, ${input.position})`);
    return { id };
  });
}

/** Creates a station on a line. */
export async function createStation(viewer: Viewer, input: CreateStation, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return changeSetup(viewer, { action: "station.created", payload: input, at }, async (db) => {
    const { plantId } = viewer;
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into station (plant_id, id, key, name, line_id, operation_id, viewing_side)
      values (${plantId}, ${id}, ${input.key}, ${input.name},
        ${await idInUse(db, plantId, "line", { key: input.line, field: "line" })},
        ${await idOf(db, plantId, "operation", input.operation)}, ${input.viewingSide})`);
    return { id };
  });
}

/** Creates a supplier. */
export async function createSupplier(viewer: Viewer, input: CreateSupplier, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return changeSetup(viewer, { action: "supplier.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into supplier (plant_id, id, key, name)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name})`);
    return { id };
  });
}

/** Creates a frame model that is built to a drawing. */
export async function createFrameModel(viewer: Viewer, input: CreateFrameModel, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return changeSetup(viewer, { action: "frame-model.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into frame_model (plant_id, id, key, name, drawing_id)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name}, ${await idOf(db, viewer.plantId, "drawing", input.drawing)})`);
    return { id };
  });
}

/** Creates a gauge, with its calibration where one is known: without, it proves nothing for a release. */
export async function createGauge(viewer: Viewer, input: CreateGauge, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "gauges.manage");
  if (input.calibratedAt !== undefined)
    momentDone(new Date(input.calibratedAt), at, {
      of: "calibration",
      kept: "Nothing was changed.",
      path: "calibratedAt",
      zone: await getPlantZone(viewer),
    });
  const { plantId } = viewer;
  const calibrationId = uuidV7(at.getTime());
  // Where no calibration was written, there is none to vouch for.
  const subjects = (db: pg.ClientBase) => subjectsOf(db, plantId, "calibration", [calibrationId]);
  return changeSetup(viewer, { action: "gauge.created", payload: input, at, subjects }, async (db) => {
    const id = uuidV7(at.getTime());
    const stationId =
      input.station === undefined
        ? null
        : await idInUse(db, plantId, "station", { key: input.station, field: "station" });
    const ringId =
      input.ring === undefined ? null : await idInUse(db, plantId, "setting_ring", { key: input.ring, field: "ring" });
    await db.query(sql`
      insert into gauge (plant_id, id, key, name, kind, principle, resolution_um, range_lower, range_upper,
        repeatability_um, station_id, ring_id)
      values (${plantId}, ${id}, ${input.key}, ${input.name}, ${input.kind}, ${input.principle}, ${input.resolutionUm},
        ${input.rangeLower ?? null}, ${input.rangeUpper ?? null}, ${input.repeatabilityUm ?? null}, ${stationId}, ${ringId})`);
    if (input.calibratedAt !== undefined && input.calibratedUntil !== undefined)
      await db.query(sql`insert into calibration (plant_id, id, gauge_id, at, due_at)
        values (${plantId}, ${calibrationId}, ${id}, ${input.calibratedAt}, ${input.calibratedUntil})`);
    return { id };
  });
}

/** Writes the characteristics of a draft again, in their order. */
export async function replaceCharacteristics(
  db: pg.ClientBase,
  plantId: string,
  revisionId: string,
  list: ShellDrawing["characteristics"],
): Promise<void> {
  await db.query(sql`delete from characteristic where plant_id = ${plantId} and drawing_revision_id = ${revisionId}`);
  await db.query(sql`
    insert into characteristic (plant_id, drawing_revision_id, name, position, unit, lower, upper, target, critical, uncertainty)
    select ${plantId}, ${revisionId}, r.* from unnest(${list.map((one) => one.name)}::text[],
      ${list.map((_, place) => place)}::int2[], ${list.map((one) => CHARACTERISTIC_UNIT[one.name])}::text[],
      ${list.map((one) => one.lower)}::float8[], ${list.map((one) => one.upper)}::float8[],
      ${list.map((one) => one.target)}::float8[], ${list.map((one) => one.critical)}::boolean[],
      ${list.map((one) => one.uncertainty)}::float8[]) as r`);
}

async function insertDrawingRevision(
  db: pg.ClientBase,
  plantId: string,
  drawing: ShellDrawing,
  at: Date,
): Promise<string> {
  await db.query(sql`
    insert into drawing (plant_id, id, key, title) values (${plantId}, ${uuidV7(at.getTime())}, ${drawing.key}, ${drawing.title})
    on conflict (plant_id, key) do nothing`);
  const id = uuidV7(at.getTime());
  await db.query(sql`
    insert into drawing_revision (plant_id, id, drawing_id, revision, content, feature_names, created_at)
    values (${plantId}, ${id}, ${await idOf(db, plantId, "drawing", drawing.key)}, ${drawing.revision},
      ${canonicalJson(drawing)}::jsonb, ${[...FEATURE_NAMES]}, ${at})`);
  await replaceCharacteristics(db, plantId, id, drawing.characteristics);
  return id;
}

/**
 * Drafts a drawing, or a new revision of one.
 *
 * @throws AppError conflict where the revision is there already, or `isNew` says that the drawing must not be
 */
export async function draftDrawing(
  viewer: Viewer,
  { drawing, isNew = false }: DraftDrawing,
  at: Date = new Date(),
): Promise<Made> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const what = { action: "drawing.drafted", payload: { key: drawing.key, revision: drawing.revision }, at };
  return changeSetup(viewer, { ...what, keyField: "revision" }, async (db) => {
    if (isNew) {
      const known = await db.query(sql`select 1 from drawing where plant_id = ${plantId} and key = ${drawing.key}`);
      if (known.rows.length > 0)
        throw new AppError(
          "conflict",
          `There is a drawing ${drawing.key} already. Nothing was changed; revise it, or choose another key.`,
          { fields: [{ path: "key", message: "is taken already" }] },
        );
    }
    return { id: await insertDrawingRevision(db, plantId, drawing, at) };
  });
}

/** Releases a drafted drawing revision: it never changes again, and supersedes the one before. */
export async function releaseDrawing(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  const { plantId } = viewer;
  const subjects = (db: pg.ClientBase) => subjectsOf(db, plantId, "drawing_revision", [id]);
  await changeSetup(viewer, { action: "drawing.released", payload: { id }, at, subjects }, async (db) => {
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<{ drawingId: string; content: unknown }>(sql`
      update drawing_revision set state = 'released', released_at = ${at}, released_by_id = ${personId}
      where plant_id = ${plantId} and id = ${id} and state = 'draft'
      returning drawing_id as "drawingId", content`);
    const released = rows[0];
    if (!released)
      throw new AppError("conflict", "This revision is no draft any more, or is not known. Nothing was changed.");
    parseInput(shellDrawingSchema, released.content);
    await db.query(sql`
      update drawing_revision set state = 'superseded'
      where plant_id = ${plantId} and drawing_id = ${released.drawingId} and state = 'released' and id <> ${id}`);
  });
}

export type DraftedPlan = Made & {
  /** What the plan's uncertainty does to the tolerances, in sentences. */
  readonly warnings: readonly string[];
};

/**
 * The readings of a plan as names, checked against the drawing.
 *
 * @throws AppError invalid-input where a reading cannot be taken on this shell
 */
export function planNamesFor(drawing: ShellDrawing, readingNames: readonly string[]): readonly ReadingName[] {
  const names = readingNames.flatMap((text) => {
    const name = parseReadingName(text);
    return name.ok ? [name.value] : [];
  });
  const tooDeep = names.find((name) => "depthMm" in name && name.depthMm > drawing.seatDepthMm);
  if (tooDeep) {
    const message = `${formatReadingName(tooDeep)} lies deeper than the seat, ${drawing.seatDepthMm} mm`;
    throw new AppError("invalid-input", `The plan does not fit the drawing: ${message}. Nothing was changed.`, {
      fields: [{ path: "readingNames", message }],
    });
  }
  try {
    compileMeasurement(names, drawing);
  } catch (error) {
    if (!(error instanceof CoreError)) throw error;
    const message = error.message.replace(/^[A-Za-z]+: /, "");
    throw new AppError("invalid-input", `The plan does not fit the drawing: ${message}. Nothing was changed.`, {
      fields: [{ path: "readingNames", message }],
      cause: error,
    });
  }
  return names;
}

/**
 * Plans that a plan names (that of its first-off, weaker ones that count) must be there, released, for the same drawing.
 *
 * @throws AppError invalid-input
 */
export async function assertNamedPlans(
  db: pg.ClientBase,
  plantId: string,
  drawingId: string,
  settings: DraftPlan["settings"],
): Promise<void> {
  const first = settings?.firstOff?.plan;
  const named = [
    ...(first === undefined ? [] : [{ path: "settings.firstOff.plan", key: first }]),
    ...(settings?.weakerPlans ?? []).map((key) => ({ path: "settings.weakerPlans", key })),
  ];
  if (named.length === 0) return;
  const { rows } = await db.query<{ key: string }>(sql`
    select distinct p.key from measuring_plan p
    join measuring_plan_revision r on r.plant_id = p.plant_id and r.plan_id = p.id
    where p.plant_id = ${plantId} and p.key = any(${named.map(({ key }) => key)}) and p.drawing_id = ${drawingId}
      and r.state = 'released'`);
  const known = new Set(rows.map(({ key }) => key));
  const wrong = named.find(({ key }) => !known.has(key));
  if (wrong === undefined) return;
  const message = "must be a released plan for the same drawing";
  throw new AppError("invalid-input", `Plan ${wrong.key} cannot be named here: it ${message}. Nothing was changed.`, {
    fields: [{ path: wrong.path, message }],
  });
}

/**
 * Drafts a measuring plan, or a new revision of one, for a drawing revision.
 *
 * @throws AppError not-found (no released drawing revision), invalid-input (a reading that cannot be), conflict
 */
export async function draftPlan(viewer: Viewer, input: DraftPlan, at: Date = new Date()): Promise<DraftedPlan> {
  assertMay(viewer, "setup.draft");
  const what = { action: "plan.drafted", payload: { key: input.key, revision: input.revision }, at };
  return changeSetup(viewer, { ...what, keyField: "revision" }, async (db) => {
    const { plantId } = viewer;
    const { rows } = await db.query<{ drawingId: string; content: ShellDrawing }>(sql`
      select drawing_id as "drawingId", content from drawing_revision
      where plant_id = ${plantId} and id = ${input.drawingRevisionId} and state <> 'draft'`);
    const drawing = rows[0];
    if (!drawing)
      throw new AppError("not-found", "The drawing revision is not known or not released. Nothing was changed.");
    const names = planNamesFor(drawing.content, input.readingNames);
    await assertNamedPlans(db, plantId, drawing.drawingId, input.settings);
    const known = await db.query<{ drawingId: string }>(sql`
      select drawing_id as "drawingId" from measuring_plan where plant_id = ${plantId} and key = ${input.key}`);
    if (known.rows.some((plan) => input.isNew === true || plan.drawingId !== drawing.drawingId))
      throw new AppError(
        "conflict",
        `There is a plan ${input.key} already. Nothing was changed; revise it, or choose another key.`,
        { fields: [{ path: "key", message: "is taken already" }] },
      );
    await db.query(sql`
      insert into measuring_plan (plant_id, id, key, title, drawing_id)
      values (${plantId}, ${uuidV7(at.getTime())}, ${input.key}, ${input.title}, ${drawing.drawingId})
      on conflict (plant_id, key) do nothing`);
    const planId = await idOf(db, plantId, "measuring_plan", input.key);
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into measuring_plan_revision (plant_id, id, plan_id, drawing_revision_id, revision, reading_names, frames, settings,
        created_at)
      values (${plantId}, ${id}, ${planId}, ${input.drawingRevisionId}, ${input.revision}, ${input.readingNames},
        ${canonicalJson(input.frames)}::jsonb, ${canonicalJson(input.settings ?? {})}::jsonb, ${at})`);
    return { id, warnings: uncertaintyWarnings(drawing.content, names, measuringOptions(input.settings)) };
  });
}

/** Releases a drafted plan revision: stations load it, and it supersedes the one before. */
export async function releasePlan(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  const { plantId } = viewer;
  const subjects = (db: pg.ClientBase) => subjectsOf(db, plantId, "measuring_plan_revision", [id]);
  await changeSetup(viewer, { action: "plan.released", payload: { id }, at, subjects }, async (db) => {
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<{ planId: string; drawingState: string }>(sql`
      update measuring_plan_revision r set state = 'released', released_at = ${at}, released_by_id = ${personId}
      from drawing_revision d
      where r.plant_id = ${plantId} and r.id = ${id} and r.state = 'draft' and d.plant_id = r.plant_id
        and d.id = r.drawing_revision_id
      returning r.plan_id as "planId", d.state::text as "drawingState"`);
    const released = rows[0];
    if (!released)
      throw new AppError("conflict", "This revision is no draft any more, or is not known. Nothing was changed.");
    if (released.drawingState !== "released")
      throw new AppError(
        "refused",
        "The plan's drawing revision was superseded by a newer one. Nothing was changed; draft the plan again for the drawing in force.",
      );
    await db.query(sql`
      update measuring_plan_revision set state = 'superseded'
      where plant_id = ${plantId} and plan_id = ${released.planId} and state = 'released' and id <> ${id}`);
  });
}

/** Keys that a new batch names, as ids; the plan must be released and for the model's drawing. */
async function findBatchParts(db: pg.ClientBase, plantId: string, input: CreateBatch) {
  const supplierId = await idInUse(db, plantId, "supplier", { key: input.supplier, field: "supplier" });
  const modelId = await idInUse(db, plantId, "frame_model", { key: input.model, field: "model" });
  const lineId = await idInUse(db, plantId, "line", { key: input.line, field: "line" });
  const planId = await idOf(db, plantId, "measuring_plan", input.plan);
  const { rows } = await db.query<{ released: boolean; planDrawing: string; modelDrawing: string }>(sql`
    select pd.key as "planDrawing", md.key as "modelDrawing",
      exists (select 1 from measuring_plan_revision r where r.plant_id = p.plant_id and r.plan_id = p.id
        and r.state = 'released') as released
    from measuring_plan p
    join frame_model m on m.plant_id = p.plant_id and m.id = ${modelId}
    join drawing pd on pd.plant_id = p.plant_id and pd.id = p.drawing_id
    join drawing md on md.plant_id = m.plant_id and md.id = m.drawing_id
    where p.plant_id = ${plantId} and p.id = ${planId}`);
  const pair = rows[0];
  if (pair && pair.planDrawing !== pair.modelDrawing)
    throw new AppError(
      "refused",
      `Plan ${input.plan} measures drawing ${pair.planDrawing}, but model ${input.model} is built to ${pair.modelDrawing}. Nothing was changed.`,
      { fields: [{ path: "plan", message: `must be a plan for drawing ${pair.modelDrawing}` }] },
    );
  if (pair?.released === false)
    throw new AppError("refused", `Plan ${input.plan} is not released yet. Nothing was changed; release it first.`, {
      fields: [{ path: "plan", message: "is not released yet" }],
    });
  return { supplierId, modelId, lineId, planId };
}

const NAMED_AT_MOST = 5;
const FIELDS_AT_MOST = 50;

async function assertNewSerials(db: pg.ClientBase, plantId: string, serials: readonly string[]): Promise<void> {
  const { rows } = await db.query<{ serial: string; batch: string }>(sql`
    select f.serial, b.key as batch from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where f.plant_id = ${plantId} and f.serial = any(${serials}::text[]) order by f.serial`);
  if (rows.length === 0) return;
  const named = rows.slice(0, NAMED_AT_MOST).map(({ serial, batch }) => `${serial} (batch ${batch})`);
  const more = rows.length > NAMED_AT_MOST ? ` and ${rows.length - NAMED_AT_MOST} more` : "";
  throw new AppError("conflict", `These serials are known already: ${named.join(", ")}${more}. Nothing was changed.`, {
    fields: rows.slice(0, FIELDS_AT_MOST).map(({ serial, batch }) => ({
      path: `serials[${serials.indexOf(serial)}]`,
      message: `${serial} is in batch ${batch} already`,
    })),
  });
}

/**
 * Opens a batch with the serials of its frames.
 *
 * @throws AppError not-found, refused (plan not released or for another drawing), conflict (key or serials known already)
 */
export async function createBatch(viewer: Viewer, input: CreateBatch, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  const what = { action: "batch.created", payload: { key: input.key, frames: input.serials.length }, at };
  return changeSetup(viewer, what, async (db) => {
    const { plantId } = viewer;
    const parts = await findBatchParts(db, plantId, input);
    const serials = input.serials.map((one) => one.serial);
    await assertNewSerials(db, plantId, serials);
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into batch (plant_id, id, key, supplier_id, model_id, line_id, plan_id, opened_at)
      values (${plantId}, ${id}, ${input.key}, ${parts.supplierId}, ${parts.modelId}, ${parts.lineId}, ${parts.planId}, ${at})`);
    await db.query(sql`
      insert into frame (plant_id, id, serial, batch_id, position, mould)
      select ${plantId}, r.id, r.serial, ${id}, r.position, r.mould
      from unnest(${serials.map(() => uuidV7(at.getTime()))}::uuid[], ${serials}::text[],
        ${serials.map((_, place) => place + 1)}::int4[], ${input.serials.map((one) => one.mould ?? null)}::text[])
        as r(id, serial, position, mould)`);
    return { id };
  });
}
