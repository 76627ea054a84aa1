import "server-only";
import type pg from "pg";
import PgBoss from "pg-boss";
import { uuidV7 } from "../../schemas/identifier";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
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
type Executor = PgBoss.Db;
export type Querying = Pick<pg.ClientBase, "query">;

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

/** Queues are made by migrations and never taken away: one that was there is there. */
const known = new Set<string>();

async function assertQueue(db: Querying, name: string): Promise<void> {
  if (known.has(name)) return;
  const { rowCount } = await db.query(sql`select name from jobs.queue where name = ${name}`);
  if (rowCount === 0) throw new Error(`no migration made the queue of the job ${name}`);
  known.add(name);
}

/** What has to be known of a job to add it: a room below the one that does it can. */
export type Enqueued<Data> = Pick<Job<Data>, "name" | "schema" | "tries" | "firstWaitS">;

/**
 * Adds a job in the transaction of the command that wants it: it is there when the command is, and not otherwise.
 *
 * @param db - the connection of that transaction
 * @returns the job's id, or null where one with this key waits already
 */
export async function enqueue<Data>(
  db: Querying,
  job: Enqueued<Data>,
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

/** Tries once more what failed for good, or at once what waits for its next try. @returns whether there was such a job */
export async function tryAgain(db: Querying, name: string, id: string): Promise<boolean> {
  const { rowCount } = await db.query(sql`
    update jobs.job set start_after = now() where name = ${name} and id = ${id} and state in ('retry', 'failed')`);
  if (rowCount !== 1) return false;
  // Of one that waits already this changes nothing.
  await boss().retry(name, id, { db: executor(db) });
  return true;
}
