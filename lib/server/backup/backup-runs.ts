import "server-only";
import { rm } from "node:fs/promises";
import path from "node:path";
import type pg from "pg";
import { formatDay } from "@/lib/format/date-text";
import { supersededBackups } from "@/lib/quality/backups/superseded-backups";
import { uuidV7 } from "@/lib/schemas/identifier";
import { environment } from "../base/env";
import { log } from "../base/log";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { enqueue, type Enqueued } from "../jobs/queue";
import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import { backupFolder } from "./backup-place";

const clock = plantColumns("p", { zone: "timeZone" });

/** The work of writing one. */
export const WRITE: Enqueued<{ plantId: string; id: string }> = {
  name: "backup.write",
  schema: z.strictObject({ plantId: uuidSchema, id: uuidSchema }),
  tries: 4,
  firstWaitS: 120,
};

export type BackupSetting = {
  readonly enabled: boolean;
  /** Minutes of the plant's day. */
  readonly minute: number;
  readonly keepNewest: number;
  readonly keepWeeks: number;
  readonly keepMonths: number;
  readonly withKeys: boolean;
};

/** What holds until somebody changes it: each night, a week of days, a month of weeks, a year of months (common practice, no source). */
export const DEFAULT_SETTING: BackupSetting = {
  enabled: true,
  minute: 120,
  keepNewest: 7,
  keepWeeks: 4,
  keepMonths: 12,
  withKeys: true,
};

export async function readSetting(db: Pick<pg.ClientBase, "query">, plantId: string): Promise<BackupSetting> {
  const { rows } = await db.query<BackupSetting>(sql`
    select enabled, minute, keep_newest as "keepNewest", keep_weeks as "keepWeeks", keep_months as "keepMonths",
      with_keys as "withKeys" from backup_setting where plant_id = ${plantId}`);
  return rows[0] ?? DEFAULT_SETTING;
}

/** Ends runs whose job was given up, or is gone. */
export async function endAbandoned(db: Pick<pg.ClientBase, "query">, plantId: string): Promise<void> {
  await db.query(sql`
    update backup_run r set ended_at = now(), failure = 'It was given up.' where plant_id = ${plantId} and ended_at is null
      and not exists (select from jobs.job j where j.name = ${WRITE.name} and j.state in ('created', 'retry', 'active')
        and j.data ->> 'id' = r.id::text)`);
}

/**
 * Adds a backup that is to be written, where none is under way.
 *
 * @param db - in a transaction that holds the plant's row
 * @returns null where one is
 */
export async function addRun(db: pg.ClientBase, plantId: string, askedById: string | null): Promise<string | null> {
  await endAbandoned(db, plantId);
  const id = uuidV7();
  const { rowCount } = await db.query(sql`
    insert into backup_run (plant_id, id, number, asked_at, asked_by_id)
    select ${plantId}, ${id}, coalesce((select max(number) from backup_run where plant_id = ${plantId}), 0) + 1, now(), ${askedById}::uuid
    where not exists (select from backup_run where plant_id = ${plantId} and ended_at is null)`);
  if (rowCount !== 1) return null;
  await enqueue(db, WRITE, { plantId, id }, { key: id });
  return id;
}

/**
 * Adds the backup of the schedule where its moment has passed and none was asked for since. A run that lies ahead of the clock, which was
 * set back then, does not count.
 */
export async function addDueRun(db: pg.ClientBase, plantId: string): Promise<void> {
  const { enabled, minute } = await readSetting(db, plantId);
  if (!enabled) return;
  const { rows } = await db.query<{ due: boolean }>(sql`
    select not exists (select from backup_run r where r.plant_id = p.id and r.asked_at >= m.moment and r.asked_at <= now() + interval '1 hour')
        and p.created_at < m.moment as due
    from plant p cross join lateral (select max(t) as moment from (
      select ((now() at time zone p.time_zone)::date - d + make_interval(mins => ${minute})) at time zone p.time_zone as t
      from generate_series(0, 1) d) one where t <= now()) m
    where p.id = ${plantId} for update of p`);
  if (rows[0]?.due === true) await addRun(db, plantId, null);
}

/** Removes files that newer ones take the place of. Those that lie elsewhere, as after a move, are nobody's to remove. */
export async function removeSuperseded(plantId: string): Promise<void> {
  const pool = getPool();
  const { keepNewest: newest, keepWeeks: weeks, keepMonths: months } = await readSetting(pool, plantId);
  const { rows } = await pool.query<RowOf<typeof clock> & { number: number; file: string; askedAt: Date }>(sql`
    select r.number, r.file, r.asked_at as "askedAt", ${clock} from backup_run r join plant p on p.id = r.plant_id
    where r.plant_id = ${plantId} and r.file is not null and r.failure is null and r.ended_at is not null and r.removed_at is null`);
  const backups = rows.map(({ number, askedAt, zone }) => ({ number, day: formatDay(askedAt, { zone }) }));
  const own = backupFolder(environment("SHELLGATE_DATA"));
  for (const number of supersededBackups(backups, { newest, weeks, months })) {
    const file = rows.find((row) => row.number === number)?.file ?? "";
    if (path.dirname(file) !== own) continue;
    try {
      await rm(file, { force: true });
    } catch (error) {
      log.warn("a backup that is not needed any more could not be removed", { file, error });
      continue;
    }
    await pool.query(sql`update backup_run set removed_at = now() where plant_id = ${plantId} and number = ${number}`);
  }
}
