import "server-only";
import type { z } from "zod";
import { AppError } from "@/lib/errors";
import { log } from "../base/log";
import { getPool } from "../db/client";
import { readDatabaseRefusal } from "../db/prisma-errors";
import type { Job, JobRun } from "./define-job";
import { claim, complete, completeWith, fail, JobTaken, type Claimed } from "./queue";
import { JOBS_WORDS } from "./words";

const texts = JOBS_WORDS.runJob;

const REFUSALS: Readonly<Record<string, string>> = {
  unreachable: "The database did not answer, or not in time.",
  busy: "Somebody else’s work held this up for too long.",
  full: "The server has no room left to write. Have room made on the disk of the database.",
  conflict: "Somebody else was writing the same thing again and again.",
};

/** What went wrong, for the page of jobs: sentences as they are, what nobody foresaw with the program's own words. */
function inWords(error: unknown): string {
  if (error instanceof AppError || error instanceof BrokenOff) return error.message;
  const kind = readDatabaseRefusal(error)?.kind ?? "";
  const own = error instanceof Error && error.message !== "" ? error.message : String(error);
  return REFUSALS[kind] ?? texts.somethingUnexpectedHappened(own);
}

/** The reason of a try that is broken off, in words. */
export class BrokenOff extends Error {
  override name = "BrokenOff";
}

function unreadable(error: z.ZodError): string {
  const where = [...new Set(error.issues.map(({ path }) => path.join(".") || texts.allOf))].join(", ");
  return texts.anotherVersionOfShellgateWrote(where);
}

/** Calls what writes the outcome of a job; a worker calls it again until the database is there. */
export type Settle = <T>(write: () => Promise<T>) => Promise<T>;

type Outcome =
  { readonly kind: "done" } | { readonly kind: "failed"; readonly words: string } | { readonly kind: "taken" };

async function perform(job: Job, claimed: Claimed, signal: AbortSignal): Promise<Outcome> {
  let isFinished = false;
  const run: JobRun = {
    id: claimed.id,
    attempt: claimed.attempt,
    signal,
    finish: async (effect) => {
      await completeWith(claimed, effect);
      isFinished = true;
    },
  };
  try {
    const data = job.schema.safeParse(claimed.data);
    if (!data.success) return { kind: "failed", words: unreadable(data.error) };
    await job.run(data.data, run);
    return { kind: "done" };
  } catch (error) {
    if (error instanceof JobTaken) return { kind: "taken" };
    if (isFinished) {
      log.warn("a job failed after it was done", { job: job.name, id: claimed.id, error });
      return { kind: "done" };
    }
    log.warn("a try of a job failed", { job: job.name, id: claimed.id, attempt: claimed.attempt, error });
    return { kind: "failed", words: inWords(error) };
  }
}

const aborted = (signal: AbortSignal): Promise<Outcome> =>
  new Promise((resolve) => {
    const tell = (): void => resolve({ kind: "failed", words: inWords(signal.reason) });
    if (signal.aborted) tell();
    signal.addEventListener("abort", tell, { once: true });
  });

/**
 * Runs a job that was begun and writes how it went.
 *
 * @param signal - its reason is the failure, in words, of a try that is broken off
 * @returns what the job's own function still does after it was broken off: settled where it had ended
 */
export async function runClaimed(
  job: Job,
  claimed: Claimed,
  signal: AbortSignal,
  settle: Settle = (write) => write(),
): Promise<{ readonly left: Promise<unknown> }> {
  const left = perform(job, claimed, signal);
  const outcome = await Promise.race([left, aborted(signal)]);
  if (outcome.kind === "done") await settle(() => complete(getPool(), claimed));
  if (outcome.kind === "failed") await settle(() => fail(claimed, outcome.words));
  return { left };
}

/** A number that no worker has. */
const NOBODY = 0;

/**
 * Runs in this process what is due of these jobs, one after the other, until nothing is: for tests, and commands that have no worker.
 *
 * @param isEarly - also what waits for a later moment, once
 * @returns how many were run
 */
export async function runDueJobs(jobs: readonly Job[], isEarly = false): Promise<number> {
  let count = 0;
  for (let found = true; found;) {
    found = false;
    for (const job of jobs) {
      const claimed = await claim(job.name, NOBODY, isEarly);
      if (claimed === null) continue;
      await runClaimed(job, claimed, AbortSignal.timeout(job.deadlineS * 1000));
      found = true;
      count += 1;
    }
    if (isEarly) return count;
  }
  return count;
}
