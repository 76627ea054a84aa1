import "server-only";
import type { ChangeNamedPart, ChangeOperation, ChangePlant, ChangeStation } from "@/lib/schemas/plant-parts";
import { assertMay } from "../auth/permissions";
import { forgetTokens } from "../auth/find-token-viewer";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { changePart } from "./change-part";

const READ_NAMED = {
  line: (plantId: string, key: string) =>
    sql`select name, active as "inUse", version from line where plant_id = ${plantId} and key = ${key} for update`,
  supplier: (plantId: string, key: string) =>
    sql`select name, active as "inUse", version from supplier where plant_id = ${plantId} and key = ${key} for update`,
  frame_model: (plantId: string, key: string) =>
    sql`select name, active as "inUse", version from frame_model where plant_id = ${plantId} and key = ${key} for update`,
} as const;

const WRITE_NAMED = {
  line: (plantId: string, { key, name, inUse }: ChangeNamedPart) => sql`
    update line set name = ${name}, active = ${inUse}, version = version + 1 where plant_id = ${plantId} and key = ${key}`,
  supplier: (plantId: string, { key, name, inUse }: ChangeNamedPart) => sql`
    update supplier set name = ${name}, active = ${inUse}, version = version + 1
    where plant_id = ${plantId} and key = ${key}`,
  frame_model: (plantId: string, { key, name, inUse }: ChangeNamedPart) => sql`
    update frame_model set name = ${name}, active = ${inUse}, version = version + 1
    where plant_id = ${plantId} and key = ${key}`,
} as const;

/**
 * Names a line, a supplier or a frame model anew, takes it out of use or puts it back. What was recorded with it stays.
 *
 * @throws AppError forbidden, not-found, conflict
 */
export async function changeNamedPart(viewer: Viewer, input: ChangeNamedPart, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.draft");
  const { part, key, version, ...values } = input;
  await changePart(viewer, {
    what: part.replaceAll("_", " "),
    action: part.replaceAll("_", "-"),
    key,
    version,
    values,
    at,
    read: READ_NAMED[part](viewer.plantId, key),
    write: async () => WRITE_NAMED[part](viewer.plantId, input),
  });
}

/** Names an operation anew, or moves it in the route. @throws AppError forbidden, not-found, conflict */
export async function changeOperation(viewer: Viewer, input: ChangeOperation, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const { key, version, ...values } = input;
  await changePart(viewer, {
    what: "operation",
    action: "operation",
    key,
    version,
    values,
    at,
    read: sql`select name, position, version from operation where plant_id = ${plantId} and key = ${key} for update`,
    write: async () => sql`
      update operation set name = ${values.name}, position = ${values.position}, version = version + 1
      where plant_id = ${plantId} and key = ${key}`,
  });
}

/**
 * Names a station anew, turns it to the other side, takes it out of use or puts it back. Its line and its operation stay: what was
 * measured at it belongs to their streams. A device keeps the side that it was set to.
 *
 * @throws AppError forbidden, not-found, conflict
 */
export async function changeStation(viewer: Viewer, input: ChangeStation, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const { key, version, ...values } = input;
  await changePart(viewer, {
    what: "station",
    action: "station",
    key,
    version,
    values,
    at,
    read: sql`
      select name, viewing_side as "viewingSide", active as "inUse", version from station
      where plant_id = ${plantId} and key = ${key} for update`,
    write: async () => sql`
      update station set name = ${values.name}, viewing_side = ${values.viewingSide}, active = ${values.inUse},
        version = version + 1 where plant_id = ${plantId} and key = ${key}`,
  });
}

/** Names the plant anew, or sets its clock. @throws AppError forbidden, conflict */
export async function changePlant(viewer: Viewer, input: ChangePlant, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const { version, ...values } = input;
  await changePart(viewer, {
    what: "plant",
    action: "plant",
    version,
    values,
    at,
    read: sql`select name, time_zone as "timeZone", version from plant where id = ${plantId} for update`,
    write: async () => sql`
      update plant set name = ${values.name}, time_zone = ${values.timeZone}, version = version + 1 where id = ${plantId}`,
  });
  // Viewers of tokens are remembered for some seconds, with the plant's clock.
  forgetTokens();
}
