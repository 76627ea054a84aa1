import "server-only";
import { getPool } from "../db/client";
import { constant, sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import type { Querying } from "./queue";
import { JOBS_WORDS } from "./words";

const words = JOBS_WORDS.workers;

/** A job that ended so many workers is the cause: it is kept as failed. */
const MOST_DEATHS = 10;
/** A longer wait than any of ours is the mark of a clock that was set back. */
const LONGEST_WAIT_S = 24 * 3600;

/** Half of a pair of numbers (the other is the worker's own) under which a worker that lives holds a lock; "jobs" in ASCII. */
const WORKER_LOCK = 0x6a6f6273;
/** After a start of the database every worker needs a moment to say that it lives. */
const RECONNECT_S = 5;
/** A worker that holds its lock and says nothing for so long hangs. */
const SILENT_S = 60;

/** Part of a statement: whether the worker of this number lives. */
const LIVES = `exists (select from pg_locks l where l.locktype = 'advisory' and l.granted
  and l.database = (select oid from pg_database where datname = current_database())
  and l.classid = ${WORKER_LOCK} and l.objid = w.id::oid and l.objsubid = 2)
  and w.heard_at > now() - interval '${SILENT_S} seconds'`;

/** Gives a worker its number. @param place - where it runs, for people */
export async function registerWorker(db: Querying, place: string, version: string): Promise<number> {
  const { rows } = await db.query<{ id: number }>(
    sql`insert into jobs.worker (place, version) values (${place}, ${version}) returning id`,
  );
  const id = rows[0]?.id;
  if (id === undefined) throw new Error("a row that was inserted is returned");
  return id;
}

/** Says on a connection that the worker lives as long as it does, and waits there for news. @returns whether it may */
export async function holdWorker(db: Querying, worker: number): Promise<boolean> {
  const { rows } = await db.query<{ held: boolean }>(
    sql`select pg_try_advisory_lock(${WORKER_LOCK}::int, ${worker}::int) as held`,
  );
  if (rows[0]?.held !== true) return false;
  await db.query("listen shellgate_jobs");
  return true;
}

/** @returns whether the worker is still known */
export async function noteHeard(worker: number): Promise<boolean> {
  const { rowCount } = await getPool().query(sql`update jobs.worker set heard_at = now() where id = ${worker}`);
  return rowCount === 1;
}

export async function forgetWorker(worker: number): Promise<void> {
  await getPool().query(sql`delete from jobs.worker where id = ${worker}`);
}

/** Which of these kinds of jobs have one that is due. */
export async function dueNames(names: readonly string[]): Promise<readonly string[]> {
  const { rows } = await getPool().query<{ name: string }>(sql`
    select q.name from jobs.queue q where q.name = any(${names}) and exists (
      select from jobs.job j where j.name = q.name and j.state < 'active' and j.start_after < now())`);
  return rows.map(({ name }) => name);
}

type Lost = { readonly name: string; readonly id: string; readonly deaths: number };

async function giveToOthers({ name, id, deaths }: Lost): Promise<void> {
  await inSqlTransaction(async (db) => {
    const { rowCount } = await db.query(sql`
      select j.id from jobs.job j where j.name = ${name} and j.id = ${id} and j.state = 'active' and j.deaths = ${deaths}
        and not exists (select from jobs.worker w where w.id = j.worker and ${constant(LIVES)}) for update of j skip locked`);
    if (rowCount !== 1) return;
    if (deaths + 1 < MOST_DEATHS) {
      await db.query(sql`
        update jobs.job set state = 'retry', start_after = now() + make_interval(secs => ${deaths}), worker = null, run = null,
          started_on = null, deaths = deaths + 1
        where name = ${name} and id = ${id}`);
      return;
    }
    const message = words.workersEndedWhileTheyDid(MOST_DEATHS);
    await db.query(sql`
      update jobs.job set state = 'failed', completed_on = now(), worker = null, run = null, deaths = 0,
        output = jsonb_build_object('message', ${message}::text)
      where name = ${name} and id = ${id}`);
  });
}

/**
 * Gives what was begun by workers that live no more to those that do, and forgets these workers. No try is counted.
 *
 * @returns how many jobs
 */
export async function reclaimLost(): Promise<number> {
  const { rows } = await getPool().query<Lost>(sql`
    select j.name, j.id, j.deaths from jobs.job j
    where j.state = 'active' and pg_postmaster_start_time() < now() - make_interval(secs => ${RECONNECT_S})
      and not exists (select from jobs.worker w where w.id = j.worker and ${constant(LIVES)})`);
  for (const lost of rows) await giveToOthers(lost);
  return rows.length;
}

/**
 * Forgets the failure of what recurs once a later one of it ended either way, so that one is left of each kind at most; and
 * mends what a clock that was set back left: stretches that are said to have been worked in although they are still to come, and
 * waits that are longer than any.
 */
export async function mendQueue(): Promise<void> {
  await getPool().query(sql`
    delete from jobs.job f where f.state = 'failed' and f.singleton_on is not null and exists (
      select from jobs.job l where l.name = f.name and l.singleton_on > f.singleton_on and l.state in ('completed', 'failed'))`);
  await getPool().query(sql`
    delete from jobs.job where state in ('completed', 'failed') and singleton_on > (now() at time zone 'utc') + interval '1 second'`);
  await getPool().query(sql`
    update jobs.job set start_after = now() where state = 'retry' and start_after > now() + make_interval(secs => ${LONGEST_WAIT_S})`);
}

/** Removes what was done days ago, and workers that ended without a word. */
export async function tidyJobs(): Promise<void> {
  await getPool().query(sql`
    delete from jobs.job where state in ('completed', 'cancelled') and completed_on < now() - interval '2 days'`);
  await getPool().query(sql`
    delete from jobs.worker w where not (${constant(LIVES)}) and heard_at < now() - interval '10 minutes'
      and not exists (select from jobs.job j where j.worker = w.id and j.state = 'active')`);
}

/** What the queue says of itself; ages in s. */
export type QueueState = {
  /** Workers that live. */
  readonly workers: number;
  /** Since the oldest that is due waits; 0 where nothing does. */
  readonly waitingS: number;
  /** Since the oldest that failed for good did so; 0 where nothing did. */
  readonly failedS: number;
};

export async function readQueueState(): Promise<QueueState> {
  const { rows } = await getPool().query<QueueState>(sql`
    select (select count(*)::int from jobs.worker w where ${constant(LIVES)}) as workers,
      coalesce((select extract(epoch from now() - min(start_after))::float8 from jobs.job
        where state < 'active' and start_after < now()), 0) as "waitingS",
      coalesce((select extract(epoch from now() - min(completed_on))::float8 from jobs.job where state = 'failed'), 0) as "failedS"`);
  return rows[0] ?? { workers: 0, waitingS: 0, failedS: 0 };
}

/** A worker that lives, since when, and how long ago it was heard of. */
export type LivingWorker = {
  readonly place: string;
  readonly version: string;
  readonly startedAt: Date;
  readonly heardS: number;
};

export async function listWorkers(): Promise<readonly LivingWorker[]> {
  const { rows } = await getPool().query<LivingWorker>(sql`
    select w.place, w.version, w.started_at as "startedAt", extract(epoch from now() - w.heard_at)::float8 as "heardS"
    from jobs.worker w where ${constant(LIVES)} order by w.id`);
  return rows;
}
