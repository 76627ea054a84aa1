import "server-only";
import type { Job } from "../jobs/define-job";
import { checkJournalJob } from "../audit/check-job";
import { backupDueJob, backupJob } from "../backup/jobs";
import { advanceJob, casesWatchJob } from "../cases/jobs";
import { paperJob } from "../papers/job";
import { mailJob, tellJob, watchJob, webhookJob } from "../messages/jobs";
import { anchorJob } from "./anchor-job";
import { tidyJob } from "./tidy-job";

/** Every kind of job that the worker does. A migration makes the queue of each. */
export const ALL_JOBS: readonly Job[] = [
  anchorJob,
  tellJob,
  mailJob,
  webhookJob,
  watchJob,
  advanceJob,
  casesWatchJob,
  tidyJob,
  checkJournalJob,
  backupDueJob,
  backupJob,
  paperJob,
];

export function findJob(name: string): Job | undefined {
  return ALL_JOBS.find((job) => job.name === name);
}

/** What a kind does, in words; the name itself where another version of Shellgate made it. */
export function titleOf(name: string): string {
  return findJob(name)?.title ?? name;
}
