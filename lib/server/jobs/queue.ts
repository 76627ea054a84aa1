import "server-only";
import type pg from "pg";
import PgBoss from "pg-boss";
import { uuidV7 } from "../../schemas/identifier";
import { getPool } from "../db/client";
import { constant, sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import type { Job } from "./define-job";

/** The only file that knows pg-boss. Its schema and queues are made by our migrations; none of its timers runs. */
const SCHEMA = "jobs";
/** pg-boss would drop what waited so long; nothing of ours is dropped unseen. */
const KEEP_DAYS = 3650;
/** Deadlines are the worker's own, by a clock that nobody sets; pg-boss is never asked for its own. */
const EXPIRE_HOURS = 23;
/** The key of what recurs. */
const RECURRING = "recurring";
/** A job that ended so many workers is the cause: it is kept as failed. */
const MOST_DEATHS = 10;
/** A longer wait than any of ours is the mark of a clock that was set back. */
const LONGEST_WAIT_S = 24 * 3600;

type Executor = PgBoss.Db;
type Querying = Pick<pg.ClientBase, "query">;

const executor = (db: Querying, name?: string): Executor => ({
  executeSql: (text, values) => db.query({ name, text, values }),
});

let instance: PgBoss | undefined;
/** Without a connection of its own: each call says on which it runs. */
const boss = (): PgBoss =>
  (instance ??= new PgBoss({
    db: { executeSql: () => Promise.reject(new Error("a call to pg-boss without its connection")) },
    schema: SCHEMA,
    migrate: false,
    supervise: false,
    schedule: false,
  }));

/** Thrown where a worker acts for a job that is no longer its own. */
export class JobTaken extends Error {
  override name = "JobTaken";
}

export type EnqueueOptions = {
  /**
   * While one with this key waits, another is not added, and of those with one key only one runs at a time. So the data says
   * what it is about, and never what is new about it.
   */
  readonly key?: string;
  /** Not before this moment, or so many seconds from now. */
  readonly startAfter?: Date | number;
  /** Higher goes first; 0 if not given. */
  readonly priority?: number;
  /** Other than the job's own. */
  readonly tries?: number;
  readonly firstWaitS?: number;
};

const retrying = (tries: number, firstWaitS: number) => ({
  retryLimit: tries - 1,
  retryDelay: Math.max(1, Math.round(firstWaitS)),
  retryBackoff: true,
});

async function assertQueue(db: Querying, name: string): Promise<void> {
  const { rowCount } = await db.query(sql`select name from jobs.queue where name = ${name}`);
  if (rowCount === 0) throw new Error(`no migration made the queue of the job ${name}`);
}

/**
 * Adds a job in the transaction of the command that wants it: it is there when the command is, and not otherwise.
 *
 * @param db - the connection of that transaction
 * @returns the job's id, or null where one with this key waits already
 */
export async function enqueue<Data>(
  db: Querying,
  job: Job<Data>,
  data: Data,
  options: EnqueueOptions = {},
): Promise<string | null> {
  const id = uuidV7();
  const { key = id, startAfter, priority = 0, tries = job.tries, firstWaitS = job.firstWaitS } = options;
  const sent = await boss().send(job.name, job.schema.parse(data) as object, {
    id,
    singletonKey: key,
    priority,
    ...(startAfter === undefined ? {} : { startAfter }),
    ...retrying(tries, firstWaitS),
    expireInHours: EXPIRE_HOURS,
    retentionDays: KEEP_DAYS,
    db: executor(db, "enqueue-job"),
  });
  if (sent === null) await assertQueue(db, job.name);
  return sent;
}

/** Adds what recurs and is due: once in each stretch of its length, whoever calls it how often. */
export async function enqueueRecurring(db: Querying, jobs: readonly Job[]): Promise<void> {
  const due = jobs.flatMap(({ name, everyS, tries, firstWaitS }) =>
    everyS === null
      ? []
      : [
          {
            name,
            data: {},
            singletonKey: RECURRING,
            singletonSeconds: everyS,
            ...retrying(tries, firstWaitS),
            expireInSeconds: EXPIRE_HOURS * 3600,
            keepUntil: new Date(Date.now() + KEEP_DAYS * 86_400_000),
          },
        ],
  );
  if (due.length > 0) await boss().insert(due, { db: executor(db, "enqueue-recurring") });
}

/** A job that a worker has begun. */
export type Claimed = {
  readonly name: string;
  readonly id: string;
  readonly data: unknown;
  /** 1 at first. */
  readonly attempt: number;
  /** Of this go: whoever acts for the job names it. */
  readonly run: string;
};

type Fetched = Pick<PgBoss.JobWithMetadata<object>, "id" | "data" | "retryCount" | "singletonKey">;

/** pg-boss answers every fault of a fetch with nothing; here it is thrown. */
async function fetchOne(db: Querying, name: string, isEarly: boolean): Promise<Fetched | undefined> {
  let fault: unknown;
  const noting: Executor = {
    executeSql: async (text, values) => {
      try {
        return await db.query({ text, values });
      } catch (error) {
        fault = error;
        throw error;
      }
    },
  };
  const options = { batchSize: 1, includeMetadata: true, ignoreStartAfter: isEarly, db: noting } as const;
  const [found] = await boss().fetch<object>(name, options);
  if (fault !== undefined) throw fault;
  return found;
}

/** Waits again for the one with the same key that runs now, unless another one waits that stands for it. */
async function putBack(db: Querying, name: string, { id, singletonKey }: Fetched): Promise<void> {
  const { rowCount } = await db.query(sql`
    delete from jobs.job j where j.name = ${name} and j.id = ${id} and exists (select from jobs.job o where o.name = ${name}
      and o.singleton_key = ${singletonKey} and o.state in ('created', 'retry') and o.id <> ${id})`);
  if (rowCount !== 0) return;
  await db.query(sql`
    update jobs.job set state = 'retry', start_after = now() + interval '1 second', worker = null, run = null,
      started_on = case when retry_count = 0 then null else started_on end,
      retry_count = greatest(retry_count - 1, 0)
    where name = ${name} and id = ${id}`);
}

/**
 * Begins the next job of a name that is due, for one worker alone.
 *
 * @param worker - the number of the worker, whose lock says that it lives
 * @param isEarly - also one that waits for a later moment (tests)
 * @returns null where none is due
 */
export async function claim(name: string, worker: number, isEarly = false): Promise<Claimed | null> {
  const run = uuidV7();
  return inSqlTransaction(async (db) => {
    for (;;) {
      const found = await fetchOne(db, name, isEarly);
      if (found === undefined) return null;
      const { id, data, retryCount, singletonKey } = found;
      // Two that begin at once see each other by turns.
      if (singletonKey !== id)
        await db.query(sql`select pg_advisory_xact_lock(hashtextextended(${`${name} ${singletonKey}`}, 0))`);
      const { rowCount } = await db.query(sql`
        update jobs.job set worker = ${worker}, run = ${run} where name = ${name} and id = ${id} and not exists (
          select from jobs.job o where o.name = ${name} and o.singleton_key = ${singletonKey} and o.state = 'active' and o.id <> ${id})`);
      if (rowCount === 1) return { name, id, data, attempt: retryCount + 1, run };
      await putBack(db, name, found);
    }
  });
}

/** @returns whether it was still this go's to end */
export async function complete(db: Querying, { name, id, run }: Claimed): Promise<boolean> {
  const { rowCount } = await db.query(sql`
    update jobs.job set state = 'completed', completed_on = now(), worker = null
    where name = ${name} and id = ${id} and run = ${run} and state = 'active'`);
  return rowCount === 1;
}

/** Ends a job with an effect in one transaction. @throws JobTaken */
export async function completeWith(claimed: Claimed, effect: (db: pg.PoolClient) => Promise<void>): Promise<void> {
  await inSqlTransaction(async (db) => {
    if (!(await complete(db, claimed))) throw new JobTaken(`${claimed.name} ${claimed.id} is another worker's by now`);
    await effect(db);
  });
}

/** Counts a try as failed: it waits for the next one, or is kept as failed after the last. @returns whether it was this go's */
export async function fail({ name, id, run }: Claimed, words: string): Promise<boolean> {
  return inSqlTransaction(async (db) => {
    const { rowCount } = await db.query(sql`
      select id from jobs.job where name = ${name} and id = ${id} and run = ${run} and state = 'active' for update`);
    if (rowCount !== 1) return false;
    await boss().fail(name, id, { message: words }, { db: executor(db) });
    return true;
  });
}

/** Gives a job back that a worker has begun and will not end: no try is counted. */
export async function release({ name, id, run }: Claimed): Promise<void> {
  await getPool().query(sql`
    update jobs.job set state = 'retry', start_after = now(), worker = null, run = null, started_on = null
    where name = ${name} and id = ${id} and run = ${run} and state = 'active'`);
}

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

export async function noteHeard(worker: number): Promise<void> {
  await getPool().query(sql`update jobs.worker set heard_at = now() where id = ${worker}`);
}

export async function forgetWorker(worker: number): Promise<void> {
  await getPool().query(sql`delete from jobs.worker where id = ${worker}`);
}

/** Which of these kinds of jobs have one that is due. */
export async function dueNames(names: readonly string[]): Promise<readonly string[]> {
  const { rows } = await getPool().query<{ name: string }>(sql`
    select q.name from jobs.queue q where q.name = any(${names}) and exists (
      select from jobs.job j where j.name = q.name and j.state in ('created', 'retry') and j.start_after <= now())`);
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
    await db.query(sql`update jobs.job set retry_limit = retry_count where name = ${name} and id = ${id}`);
    const message = `${MOST_DEATHS} workers ended while they did it. It is not begun by itself any more.`;
    await boss().fail(name, id, { message }, { db: executor(db) });
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
 * Mends what a clock that was set back left: stretches that are said to have been worked in although they are still to come, and
 * waits that are longer than any.
 */
export async function mendClock(): Promise<void> {
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
