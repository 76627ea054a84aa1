import "server-only";
import type pg from "pg";
import { batchColumns } from "../db/columns/batch";
import { calibrationColumns } from "../db/columns/calibration";
import { deviceColumns } from "../db/columns/device";
import { gaugeColumns } from "../db/columns/gauge";
import { lineColumns } from "../db/columns/line";
import { stationColumns } from "../db/columns/station";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { writeEvents, type WrittenEvent } from "../outbox/write-events";

/** How long before its end a calibration is told of (common practice, no source). */
const GAUGE_DUE_DAYS = 7;
/** A device with readings on it says something every minute while it has the network; as long as a lease of a batch lasts. */
const SILENT_MINUTES = 15;
/** A batch that is held so long without a decision is told of again (common practice, no source). */
const DECISION_HOURS = 24;

const dueGauge = gaugeColumns("g", { gauge: "key" });
const dueEnd = calibrationColumns("c", ["dueAt"]);

async function gaugesDue(db: pg.ClientBase, plantId: string, now: Date): Promise<readonly WrittenEvent[]> {
  const { rows } = await db.query<RowOf<typeof dueGauge> & RowOf<typeof dueEnd>>(sql`
    select ${dueGauge}, ${dueEnd}
    from gauge g cross join lateral (select k.due_at from calibration k
      where k.plant_id = g.plant_id and k.gauge_id = g.id order by k.at desc, k.id desc limit 1) c
    where g.plant_id = ${plantId} and g.active
      and c.due_at < ${now}::timestamptz + make_interval(days => ${GAUGE_DUE_DAYS}) order by c.due_at, g.key`);
  return rows.map(({ gauge, dueAt }) => {
    const overdue = dueAt <= now;
    const payload = { gauge, dueAt: dueAt.toISOString(), overdue };
    return { topic: "gauge.due", payload, occurrence: `${gauge} ${payload.dueAt} ${overdue ? "over" : "soon"}` };
  });
}

const silent = deviceColumns("d", { device: "name", lastSeenAt: "lastSeenAt" });
const stationOf = stationColumns("s", { station: "name" });

/** The device's station may be none. */
type SilentRow = RowOf<typeof silent> & { [Name in keyof RowOf<typeof stationOf>]: string | null } & {
  waiting: number;
};

async function silentDevices(db: pg.ClientBase, plantId: string, now: Date): Promise<readonly WrittenEvent[]> {
  const { rows } = await db.query<SilentRow>(sql`
    select ${silent}, ${stationOf}, (d.queue ->> 'waiting')::int as waiting
    from device d left join station s on s.plant_id = d.plant_id and s.id = d.station_id
    where d.plant_id = ${plantId} and d.revoked_at is null and (d.queue ->> 'waiting')::int > 0
      and d.last_seen_at < ${now}::timestamptz - make_interval(mins => ${SILENT_MINUTES}) order by d.last_seen_at, d.id`);
  return rows.map(({ lastSeenAt, ...rest }) => {
    const payload = { ...rest, lastSeenAt: (lastSeenAt ?? now).toISOString() };
    return { topic: "device.silent", payload, occurrence: `${rest.device} ${payload.lastSeenAt}` };
  });
}

const heldBatch = batchColumns("b", { batch: "key", heldAt: "heldAt" });
const lineOf = lineColumns("l", { line: "name" });

async function decisionsWaiting(db: pg.ClientBase, plantId: string, now: Date): Promise<readonly WrittenEvent[]> {
  const { rows } = await db.query<RowOf<typeof heldBatch> & RowOf<typeof lineOf>>(sql`
    select ${heldBatch}, ${lineOf}
    from batch b join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
    where b.plant_id = ${plantId} and b.held_at < ${now}::timestamptz - make_interval(hours => ${DECISION_HOURS})
      and t.gone < t.frames
      and not exists (select 1 from decision d where d.plant_id = b.plant_id and d.batch_id = b.id and d.at >= b.held_at)
    order by b.held_at, b.id`);
  return rows.map(({ heldAt, ...rest }) => {
    const payload = { ...rest, heldAt: (heldAt ?? now).toISOString() };
    return { topic: "decision.waiting", payload, occurrence: `${rest.batch} ${payload.heldAt}` };
  });
}

/** Jobs that were tried as often as they may: those of the plant, and Shellgate's own. */
async function jobsFailed(db: pg.ClientBase, plantId: string): Promise<readonly WrittenEvent[]> {
  const { rows } = await db.query<{ id: string; job: string; error: string }>(sql`
    select id, name as job, coalesce(output ->> 'message', 'it did not say why') as error from jobs.job
    where state = 'failed' and coalesce(data ->> 'plantId', ${plantId}) = ${plantId} order by completed_on, id limit 100`);
  return rows.map(({ id, ...payload }) => ({ topic: "job.failed", payload, occurrence: id }));
}

/** So old is the newest backup where one of every day failed and the next is late (common practice, no source). */
const BACKUP_HOURS = 50;
const OLD_AGAIN_DAYS = 7;

async function oldBackups(db: pg.ClientBase, plantId: string, now: Date): Promise<readonly WrittenEvent[]> {
  const { rows } = await db.query<{ writtenAt: Date | null; since: Date }>(sql`
    select r.ended_at as "writtenAt", coalesce(r.ended_at, p.created_at) as since
    from plant p left join backup_setting s on s.plant_id = p.id
      left join lateral (select ended_at from backup_run where plant_id = p.id and ended_at is not null and failure is null
        order by number desc limit 1) r on true
    where p.id = ${plantId} and s.enabled is not false
      and coalesce(r.ended_at, p.created_at) < ${now}::timestamptz - make_interval(hours => ${BACKUP_HOURS})`);
  return rows.map(({ writtenAt, since }) => {
    const again = Math.floor((now.getTime() - since.getTime()) / (OLD_AGAIN_DAYS * 86_400_000));
    const payload = { backup: "newest", writtenAt: writtenAt?.toISOString() ?? null };
    return { topic: "backup.old", payload, occurrence: `${since.getTime()} ${again}` };
  });
}

/**
 * Looks for what nobody does and everybody should know: calibrations that end, tablets that are silent with readings on them, held
 * batches about which nobody decides, jobs that failed, backups that are old. What was found before is not told again.
 */
export async function findEvents(plantId: string, now: Date = new Date()): Promise<void> {
  await inSqlTransaction(async (db) => {
    const found = [
      ...(await gaugesDue(db, plantId, now)),
      ...(await silentDevices(db, plantId, now)),
      ...(await decisionsWaiting(db, plantId, now)),
      ...(await jobsFailed(db, plantId)),
      ...(await oldBackups(db, plantId, now)),
    ];
    await writeEvents(db, plantId, found, now);
  });
}
