import "server-only";
import type pg from "pg";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { ChangeGauge, ChangeSettingRing, CreateGauge, CreateSettingRing } from "@/lib/schemas/gauge";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { subjectsOf } from "../journal/row-hashes";
import { momentDone } from "../base/moment";
import { changePart } from "../plant/change-part";
import { changeSetup, idInUse, idOf } from "../plant/change-setup";
import type { Made } from "../plant/made";
import { gaugesBeforeChange, judgeGaugeAgain } from "./judge-gauge-again";

/** Creates a gauge, with its calibration where one is known: without, it proves nothing for a release. */
export async function createGauge(viewer: Viewer, input: CreateGauge, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "gauges.manage");
  if (input.calibratedAt !== undefined)
    momentDone(new Date(input.calibratedAt), at, {
      of: "calibration",
      kept: "Nothing was changed.",
      path: "calibratedAt",
      zone: viewer.plantZone,
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

/** What of a gauge decides what its readings prove. */
const MEASURING = ["resolutionUm", "rangeLower", "rangeUpper", "ring"] as const;

/**
 * Changes a gauge's name, resolution, range, repeatability, station and ring, takes it out of use or puts it back. What it
 * measured stays as it is; whether it proves something is judged again by what the gauge is known to show.
 *
 * @throws AppError forbidden, not-found, conflict; refused where it is put to a station or ring that is out of use
 */
export async function changeGauge(viewer: Viewer, input: ChangeGauge, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "gauges.manage");
  const { plantId } = viewer;
  const { key, version, station = null, ring = null, rangeLower, rangeUpper, repeatabilityUm, ...rest } = input;
  // What a caller leaves out stays as it is, so that one who does not know of it takes nothing away.
  const measuring = {
    ...(rangeLower === undefined ? {} : { rangeLower }),
    ...(rangeUpper === undefined ? {} : { rangeUpper }),
    ...(repeatabilityUm === undefined ? {} : { repeatabilityUm }),
  };
  const values = { ...rest, ...measuring, station, ring };
  await changePart(viewer, {
    what: "gauge",
    action: "gauge",
    key,
    version,
    values,
    at,
    prepare: async (db) => {
      const gauges = await gaugesBeforeChange(db, plantId);
      return async (changed) => {
        if (MEASURING.some((name) => name in changed)) await judgeGaugeAgain(db, viewer, key, gauges, at);
      };
    },
    read: sql`
      select g.name, g.resolution_um as "resolutionUm", g.range_lower as "rangeLower", g.range_upper as "rangeUpper",
        g.repeatability_um as "repeatabilityUm", g.active as "inUse", g.version,
        (select s.key from station s where s.plant_id = g.plant_id and s.id = g.station_id) as station,
        (select r.key from setting_ring r where r.plant_id = g.plant_id and r.id = g.ring_id) as ring
      from gauge g where g.plant_id = ${plantId} and g.key = ${key} for update`,
    write: async (db, before) => {
      // Where it stays at what went out of use since, that is no new choice.
      const chosen = async (table: "station" | "setting_ring", chosenKey: string | null, was: unknown) => {
        if (chosenKey === null) return null;
        if (chosenKey === was) return idOf(db, plantId, table, chosenKey);
        return idInUse(db, plantId, table, { key: chosenKey, field: table === "station" ? "station" : "ring" });
      };
      const stationId = await chosen("station", station, before["station"]);
      const ringId = await chosen("setting_ring", ring, before["ring"]);
      return sql`
        update gauge set name = ${values.name}, resolution_um = ${values.resolutionUm},
          range_lower = case when ${rangeLower !== undefined} then ${rangeLower ?? null}::float8 else range_lower end,
          range_upper = case when ${rangeUpper !== undefined} then ${rangeUpper ?? null}::float8 else range_upper end,
          repeatability_um = case when ${repeatabilityUm !== undefined} then ${repeatabilityUm ?? null}::float8
            else repeatability_um end,
          station_id = ${stationId}, ring_id = ${ringId}, active = ${values.inUse}, version = version + 1
        where plant_id = ${plantId} and key = ${key}`;
    },
  });
}

/**
 * Enters what a newer certificate says of a setting ring, takes it out of use or puts it back. Zero checks that were done stay
 * judged by the size it had then.
 *
 * @throws AppError forbidden, not-found, conflict
 */
export async function changeSettingRing(
  viewer: Viewer,
  input: ChangeSettingRing,
  at: Date = new Date(),
): Promise<void> {
  assertMay(viewer, "gauges.manage");
  const { plantId } = viewer;
  const { key, version, ...values } = input;
  await changePart(viewer, {
    what: "setting ring",
    action: "setting-ring",
    key,
    version,
    values,
    at,
    read: sql`
      select certified_size_mm as "certifiedSizeMm", uncertainty_um as "uncertaintyUm", active as "inUse", version
      from setting_ring where plant_id = ${plantId} and key = ${key} for update`,
    write: async () => sql`
      update setting_ring set certified_size_mm = ${values.certifiedSizeMm}, uncertainty_um = ${values.uncertaintyUm},
        active = ${values.inUse}, version = version + 1 where plant_id = ${plantId} and key = ${key}`,
  });
}
