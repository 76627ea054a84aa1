import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { GiveUpJob, JobKey, JobKind } from "@/lib/schemas/job";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { tryAgain } from "../jobs/queue";
import { appendJournal } from "../journal/append-journal";
import { titleOf } from "./all-jobs";

const gone = (): AppError =>
  new AppError(
    "conflict",
    "This job does not wait for a decision any more: it runs, is done, or somebody decided before you. Nothing was changed.",
  );

async function note(
  db: pg.ClientBase,
  viewer: Viewer,
  action: string,
  payload: Readonly<Record<string, unknown>>,
): Promise<void> {
  const { plantId } = viewer;
  await appendJournal(db, {
    plantId,
    chain: "setup",
    at: new Date(),
    actor: actorOf(viewer),
    action,
    subjects: [],
    payload,
  });
}

/** Locks a job of the plant, or of all plants, that a person may decide on. @throws AppError conflict */
async function lockJob(db: pg.ClientBase, viewer: Viewer, { name, id }: JobKey): Promise<void> {
  const { rowCount } = await db.query(sql`
    select id from jobs.job where name = ${name} and id = ${id} and state in ('created', 'retry', 'failed')
      and coalesce(data ->> 'plantId', ${viewer.plantId}) = ${viewer.plantId} for update`);
  if (rowCount !== 1) throw gone();
}

/**
 * Begins at once what failed, or waits for its next try.
 *
 * @throws AppError forbidden, conflict
 */
export async function tryJobAgain(viewer: Viewer, job: JobKey): Promise<void> {
  assertMay(viewer, "jobs.manage");
  await inSqlTransaction(async (db) => {
    await lockJob(db, viewer, job);
    if (!(await tryAgain(db, job.name, job.id))) throw gone();
    await note(db, viewer, "job.tried-again", { name: titleOf(job.name), job });
  });
}

/**
 * As tryJobAgain, for all of a kind that failed.
 *
 * @returns how many
 * @throws AppError forbidden, conflict where there is none
 */
export async function tryKindAgain(viewer: Viewer, { name }: JobKind): Promise<number> {
  assertMay(viewer, "jobs.manage");
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query<{ id: string }>(sql`
      select id from jobs.job where name = ${name} and state = 'failed'
        and coalesce(data ->> 'plantId', ${viewer.plantId}) = ${viewer.plantId} for update`);
    if (rows.length === 0) throw gone();
    for (const { id } of rows) await tryAgain(db, name, id);
    await note(db, viewer, "job.tried-again", { name: titleOf(name), jobs: rows.length });
    return rows.length;
  });
}

/**
 * Ends a job that nobody wants any more. What it was to do is not done; who gave it up and why stays in the journal.
 *
 * @throws AppError forbidden, conflict
 */
export async function giveUpJob(viewer: Viewer, { reason, ...job }: GiveUpJob): Promise<void> {
  assertMay(viewer, "jobs.manage");
  await inSqlTransaction(async (db) => {
    await lockJob(db, viewer, job);
    await db.query(sql`
      update jobs.job set state = 'cancelled', completed_on = now(),
        output = coalesce(output, '{}') || jsonb_build_object('givenUp', ${reason}::text)
      where name = ${job.name} and id = ${job.id}`);
    await note(db, viewer, "job.given-up", { name: titleOf(job.name), reason, job });
  });
}
