import "server-only";
import { uuidV7 } from "@/lib/schemas/identifier";
import type {
  CreateFrameModel,
  CreateLine,
  CreateOperation,
  CreateStation,
  CreateSupplier,
} from "@/lib/schemas/plant-parts";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { changeSetup, idInUse, idOf } from "./change-setup";
import type { Made } from "./made";

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
