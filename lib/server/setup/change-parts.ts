import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type {
  ChangeGauge,
  ChangeNamedPart,
  ChangeOperation,
  ChangePlant,
  ChangeSettingRing,
  ChangeStation,
} from "@/lib/schemas/setup";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { gaugesBeforeChange, judgeGaugeAgain } from "../gauges/judge-gauge-again";
import { changeSetup, idInUse, idOf } from "./change-setup";

type Statement = ReturnType<typeof sql>;
type Values = Readonly<Record<string, string | number | boolean | null>>;

type PartChange = {
  /** Its noun, for sentences. */
  readonly what: string;
  /** Begins the name of the action in the journal. */
  readonly action: string;
  /** Absent for the plant, of which there is one. */
  readonly key?: string;
  /** The version that whoever changes it was looking at. */
  readonly version: number;
  readonly values: Values;
  readonly at: Date;
  /** Locks the row and reads what it says now, under the names of `values`, with its version. */
  readonly read: Statement;
  /** Writes the values and counts the version. */
  readonly write: (db: pg.ClientBase, before: Values) => Promise<Statement>;
  /** Runs before the row is locked; what it gives is called once the values are written, with those that differed. */
  readonly prepare?: (db: pg.ClientBase) => Promise<(changed: Values) => Promise<void>>;
};

/** The values of one side that differ from those of the other. */
function differing(values: Values, others: Values): Values {
  return Object.fromEntries(Object.entries(values).filter(([name, value]) => value !== (others[name] ?? null)));
}

/**
 * Changes one part of the plant as somebody saw it. The journal says what it was before and what it is now; where nothing
 * differs, nothing is written.
 *
 * @throws AppError not-found; conflict where somebody else changed it meanwhile
 */
async function changePart(viewer: Viewer, change: PartChange): Promise<void> {
  const { what, action, key, version, values, at, read, write, prepare } = change;
  const subject = key === undefined ? what : `${what} ${key}`;
  const payload = (before: Values | null) =>
    before === null
      ? undefined
      : {
          ...(key === undefined ? {} : { key }),
          before: differing(before, values),
          after: differing(values, before),
        };
  await changeSetup(viewer, { action: `${action}.changed`, payload, at }, async (db) => {
    const follow = await prepare?.(db);
    const { rows } = await db.query<Values & { version: number }>(read);
    const [found] = rows;
    if (!found) throw new AppError("not-found", `There is no ${what} "${key ?? ""}". Nothing was changed.`);
    const { version: current, ...before } = found;
    if (current !== version)
      throw new AppError(
        "conflict",
        `The ${subject} was changed by somebody else meanwhile. Nothing was changed; load the page again and look at it first.`,
      );
    const changed = differing(values, before);
    if (Object.keys(changed).length === 0) return null;
    await db.query(await write(db, before));
    await follow?.(changed);
    return before;
  });
}

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
