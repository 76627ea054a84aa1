import "server-only";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { CreateSettingRing } from "@/lib/schemas/setup";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { changeSetup } from "./change-setup";
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
