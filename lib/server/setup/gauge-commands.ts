import "server-only";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { AddCalibration, CreateSettingRing } from "@/lib/schemas/setup";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { changeSetup, idOf } from "./change-setup";
import type { Made } from "./commands";

/** Creates a setting ring: what a comparator is set and checked with. */
export async function createSettingRing(
  viewer: Viewer,
  input: CreateSettingRing,
  at: Date = new Date(),
): Promise<Made> {
  assertMay(viewer, "gauges.manage");
  return changeSetup(viewer, { action: "setting-ring.created", payload: input, at }, async (db) => {
    const id = uuidV7(at.getTime());
    await db.query(sql`insert into setting_ring (plant_id, id, key, certified_size_mm, uncertainty_um)
      values (${viewer.plantId}, ${id}, ${input.key}, ${input.certifiedSizeMm}, ${input.uncertaintyUm})`);
    return { id };
  });
}

/** A day or a time shown in the future by no more than a clock may be wrong. */
const AHEAD_ALLOWED_MS = 5 * 60_000;

/**
 * Enters a calibration of a gauge. It proves what the gauge measures from now until it is due; earlier ones stay on record.
 *
 * @throws AppError forbidden, not-found, invalid-input (a calibration in the future)
 */
export async function addCalibration(viewer: Viewer, input: AddCalibration, now: Date = new Date()): Promise<Made> {
  assertMay(viewer, "gauges.manage");
  const { plantId } = viewer;
  if (Date.parse(input.at) > now.getTime() + AHEAD_ALLOWED_MS)
    throw new AppError("invalid-input", "The calibration lies in the future. Nothing was changed.", {
      fields: [{ path: "at", message: "must not lie in the future" }],
    });
  return changeSetup(viewer, { action: "calibration.added", payload: input, at: now }, async (db) => {
    const id = uuidV7(now.getTime());
    await db.query(sql`
      insert into calibration (plant_id, id, gauge_id, at, due_at, bias_um, certificate)
      values (${plantId}, ${id}, ${await idOf(db, plantId, "gauge", input.gauge)}, ${input.at}, ${input.dueAt}, ${input.biasUm},
        ${input.certificate === "" ? null : input.certificate})`);
    return { id };
  });
}
