import "server-only";
import { AppError } from "@/lib/errors";
import { CHARACTERISTIC_UNIT, FEATURE_NAMES, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { parseReadingName } from "@/lib/core/metrology/reading-name";
import { assessPlanUncertainty } from "@/lib/quality/plan-uncertainty";
import { uuidV7 } from "@/lib/schemas/identifier";
import type {
  CreateBatch,
  CreateFrameModel,
  CreateGauge,
  CreateLine,
  CreateStation,
  CreateSupplier,
  DraftDrawing,
  DraftPlan,
} from "@/lib/schemas/setup";
import type pg from "pg";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { forgetReferenceData } from "../inspections/reference-data";
import { appendJournal } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";

type Change = { readonly action: string; readonly payload: unknown; readonly at: Date };

/** One change of the set-up in one transaction, with its journal entry. A key that is taken is a conflict in words. */
async function change<T>(viewer: Viewer, what: Change, write: (db: pg.PoolClient) => Promise<T>): Promise<T> {
  try {
    const result = await inSqlTransaction(async (db) => {
      const written = await write(db);
      await appendJournal(db, {
        plantId: viewer.plantId,
        chain: "setup",
        at: what.at,
        actor: actorOf(viewer),
        action: what.action,
        subjects: [],
        payload: what.payload,
      });
      return written;
    });
    forgetReferenceData(viewer.plantId);
    return result;
  } catch (error) {
    if (readDatabaseRefusal(error)?.kind !== "unique") throw error;
    throw new AppError("conflict", "There is one with this key already. Nothing was changed; choose another key.", {
      cause: error,
    });
  }
}

async function idOf(db: pg.ClientBase, plantId: string, table: KeyedTable, key: string): Promise<string> {
  const { rows } = await db.query<{ id: string }>(KEYED[table](plantId, key));
  const row = rows[0];
  if (!row) throw new AppError("not-found", `There is no ${table.replaceAll("_", " ")} "${key}". Nothing was changed.`);
  return row.id;
}

const KEYED = {
  line: (plantId: string, key: string) => sql`select id from line where plant_id = ${plantId} and key = ${key}`,
  operation: (plantId: string, key: string) =>
    sql`select id from operation where plant_id = ${plantId} and key = ${key}`,
  station: (plantId: string, key: string) => sql`select id from station where plant_id = ${plantId} and key = ${key}`,
  supplier: (plantId: string, key: string) => sql`select id from supplier where plant_id = ${plantId} and key = ${key}`,
  drawing: (plantId: string, key: string) => sql`select id from drawing where plant_id = ${plantId} and key = ${key}`,
  frame_model: (plantId: string, key: string) =>
    sql`select id from frame_model where plant_id = ${plantId} and key = ${key}`,
  measuring_plan: (plantId: string, key: string) =>
    sql`select id from measuring_plan where plant_id = ${plantId} and key = ${key}`,
} as const;
type KeyedTable = keyof typeof KEYED;

export type Made = { readonly id: string };

/** Creates a line. */
export async function createLine(viewer: Viewer, input: CreateLine, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(viewer, { action: "line.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(
      sql`insert into line (plant_id, id, key, name) values (${viewer.plantId}, ${id}, ${input.key}, ${input.name})`,
    );
    return { id };
  });
}

/** Creates an operation: a place in the route where frames are measured. */
export async function createOperation(
  viewer: Viewer,
  input: { readonly key: string; readonly name: string; readonly position: number },
  at: Date = new Date(),
): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(viewer, { action: "operation.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into operation (plant_id, id, key, name, position)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name}, ${input.position})`);
    return { id };
  });
}

/** Creates a station on a line. */
export async function createStation(viewer: Viewer, input: CreateStation, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(viewer, { action: "station.created", payload: input, at }, async (db) => {
    const { plantId } = viewer;
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into station (plant_id, id, key, name, line_id, operation_id, viewing_side)
      values (${plantId}, ${id}, ${input.key}, ${input.name}, ${await idOf(db, plantId, "line", input.line)},
        ${await idOf(db, plantId, "operation", input.operation)}, ${input.viewingSide})`);
    return { id };
  });
}

/** Creates a supplier. */
export async function createSupplier(viewer: Viewer, input: CreateSupplier, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(viewer, { action: "supplier.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into supplier (plant_id, id, key, name)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name})`);
    return { id };
  });
}

/** Creates a frame model that is built to a drawing. */
export async function createFrameModel(viewer: Viewer, input: CreateFrameModel, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(viewer, { action: "frame-model.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into frame_model (plant_id, id, key, name, drawing_id)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.name}, ${await idOf(db, viewer.plantId, "drawing", input.drawing)})`);
    return { id };
  });
}

/** Creates a gauge, with its calibration where one is known: without, it proves nothing for a release. */
export async function createGauge(viewer: Viewer, input: CreateGauge, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "gauges.manage");
  return change(viewer, { action: "gauge.created", payload: input, at }, async (db) => {
    const { plantId } = viewer;
    const id = uuidV7(at.getTime());
    const stationId = input.station === undefined ? null : await idOf(db, plantId, "station", input.station);
    await db.query(sql`
      insert into gauge (plant_id, id, key, name, kind, principle, resolution_um, station_id)
      values (${plantId}, ${id}, ${input.key}, ${input.name}, ${input.kind}, ${input.principle}, ${input.resolutionUm}, ${stationId})`);
    if (input.calibratedAt !== undefined && input.calibratedUntil !== undefined)
      await db.query(sql`insert into calibration (plant_id, id, gauge_id, at, due_at)
        values (${plantId}, ${uuidV7(at.getTime())}, ${id}, ${input.calibratedAt}, ${input.calibratedUntil})`);
    return { id };
  });
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
  const list = drawing.characteristics;
  await db.query(sql`
    insert into characteristic (plant_id, drawing_revision_id, name, position, unit, lower, upper, target, critical, uncertainty)
    select ${plantId}, ${id}, r.* from unnest(${list.map((one) => one.name)}::text[], ${list.map((_, place) => place)}::int2[],
      ${list.map((one) => CHARACTERISTIC_UNIT[one.name])}::text[], ${list.map((one) => one.lower)}::float8[],
      ${list.map((one) => one.upper)}::float8[], ${list.map((one) => one.target)}::float8[],
      ${list.map((one) => one.critical)}::boolean[], ${list.map((one) => one.uncertainty)}::float8[]) as r`);
  return id;
}

/** Drafts a drawing, or a new revision of one. */
export async function draftDrawing(viewer: Viewer, { drawing }: DraftDrawing, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(
    viewer,
    { action: "drawing.drafted", payload: { key: drawing.key, revision: drawing.revision }, at },
    async (db) => ({ id: await insertDrawingRevision(db, viewer.plantId, drawing, at) }),
  );
}

/** Releases a drafted drawing revision: it never changes again, and supersedes the one before. */
export async function releaseDrawing(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  await change(viewer, { action: "drawing.released", payload: { id }, at }, async (db) => {
    const { plantId } = viewer;
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<{ drawingId: string }>(sql`
      update drawing_revision set state = 'released', released_at = ${at}, released_by_id = ${personId}
      where plant_id = ${plantId} and id = ${id} and state = 'draft' returning drawing_id as "drawingId"`);
    const released = rows[0];
    if (!released)
      throw new AppError("conflict", "This revision is no draft any more, or is not known. Nothing was changed.");
    await db.query(sql`
      update drawing_revision set state = 'superseded'
      where plant_id = ${plantId} and drawing_id = ${released.drawingId} and state = 'released' and id <> ${id}`);
  });
}

export type DraftedPlan = Made & {
  /** What the plan's uncertainty does to the tolerances, in sentences. */
  readonly warnings: readonly string[];
};

/** Drafts a measuring plan, or a new revision of one, for a drawing revision. */
export async function draftPlan(viewer: Viewer, input: DraftPlan, at: Date = new Date()): Promise<DraftedPlan> {
  assertMay(viewer, "setup.draft");
  return change(
    viewer,
    { action: "plan.drafted", payload: { key: input.key, revision: input.revision }, at },
    async (db) => {
      const { plantId } = viewer;
      const { rows } = await db.query<{ drawingId: string; content: ShellDrawing }>(sql`
        select drawing_id as "drawingId", content from drawing_revision
        where plant_id = ${plantId} and id = ${input.drawingRevisionId} and state <> 'draft'`);
      const drawing = rows[0];
      if (!drawing)
        throw new AppError("not-found", "The drawing revision is not known or not released. Nothing was changed.");
      const names = input.readingNames.flatMap((text) => {
        const name = parseReadingName(text);
        return name.ok ? [name.value] : [];
      });
      const warnings = assessPlanUncertainty(drawing.content, names)
        .filter((one) => one.large)
        .map(
          (one) =>
            `The uncertainty of ${one.name}${one.seat === null ? "" : ` (${one.seat.toUpperCase()})`} is ` +
            `${Math.round((one.shareOfTolerance ?? 0) * 100)} % of its tolerance${one.eatsTolerance ? ": no value can conform" : ""}.`,
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
      return { id, warnings };
    },
  );
}

/** Releases a drafted plan revision: stations load it, and it supersedes the one before. */
export async function releasePlan(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  await change(viewer, { action: "plan.released", payload: { id }, at }, async (db) => {
    const { plantId } = viewer;
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<{ planId: string }>(sql`
      update measuring_plan_revision set state = 'released', released_at = ${at}, released_by_id = ${personId}
      where plant_id = ${plantId} and id = ${id} and state = 'draft' returning plan_id as "planId"`);
    const released = rows[0];
    if (!released)
      throw new AppError("conflict", "This revision is no draft any more, or is not known. Nothing was changed.");
    await db.query(sql`
      update measuring_plan_revision set state = 'superseded'
      where plant_id = ${plantId} and plan_id = ${released.planId} and state = 'released' and id <> ${id}`);
  });
}

/** Opens a batch with the serials of its frames. */
export async function createBatch(viewer: Viewer, input: CreateBatch, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  return change(
    viewer,
    { action: "batch.created", payload: { key: input.key, frames: input.serials.length }, at },
    async (db) => {
      const { plantId } = viewer;
      const id = uuidV7(at.getTime());
      await db.query(sql`
        insert into batch (plant_id, id, key, supplier_id, model_id, line_id, plan_id, opened_at)
        values (${plantId}, ${id}, ${input.key}, ${await idOf(db, plantId, "supplier", input.supplier)},
          ${await idOf(db, plantId, "frame_model", input.model)}, ${await idOf(db, plantId, "line", input.line)},
          ${await idOf(db, plantId, "measuring_plan", input.plan)}, ${at})`);
      await db.query(sql`
        insert into frame (plant_id, id, serial, batch_id, position, mould)
        select ${plantId}, r.id, r.serial, ${id}, r.position, r.mould
        from unnest(${input.serials.map(() => uuidV7(at.getTime()))}::uuid[], ${input.serials.map((one) => one.serial)}::text[],
          ${input.serials.map((_, place) => place + 1)}::int4[], ${input.serials.map((one) => one.mould ?? null)}::text[])
          as r(id, serial, position, mould)`);
      return { id };
    },
  );
}
