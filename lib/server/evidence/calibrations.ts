import "server-only";
import { sql } from "../db/sql";

/** All calibrations of the gauge `g` for calibrationInForce, newest first; of one moment, the one entered last. */
export const calibrationsOfGauge = sql`(
  select coalesce(json_agg(json_build_object('atMs', (extract(epoch from c.at) * 1000)::float8,
    'dueMs', (extract(epoch from c.due_at) * 1000)::float8) order by c.at desc, c.id desc), '[]')
  from calibration c where c.plant_id = g.plant_id and c.gauge_id = g.id)`;

/** Joins to gauge `g` and inspection `i` the calibration that calibrationInForce gives, as `c.due`: null where none. */
export const calibrationAtInspection = sql`
  left join lateral (select c.due_at as due from calibration c
    where c.plant_id = g.plant_id and c.gauge_id = g.id and c.at <= i.measured_at
    order by c.at desc, c.id desc limit 1) c on true`;

/** After calibrationAtInspection: the gauge was not in calibration, as isCalibrated says it. */
export const notCalibrated = sql`(c.due is null or c.due < i.measured_at)`;
