import "server-only";
import type pg from "pg";
import type { z } from "zod";

/** What the function of a job is given beside its data. */
export type JobRun = {
  /** The same at each try: what goes out carries it, so that a receiver knows a duplicate. */
  readonly id: string;
  /** 1 at first. */
  readonly attempt: number;
  /** Aborted at the deadline, and where the job is somebody else's by now. */
  readonly signal: AbortSignal;
  /**
   * Ends the job in the transaction of its effect: both happen, or neither, and no other worker does it as well.
   *
   * @throws JobTaken where another worker has it by now; nothing was written then
   */
  readonly finish: (effect: (db: pg.PoolClient) => Promise<void>) => Promise<void>;
};

export type Job<Data = unknown> = {
  /** "room.what", the name of its queue: a migration makes it. */
  readonly name: string;
  /** What it does, for the page of jobs: "tie the journal together". */
  readonly title: string;
  readonly schema: z.ZodType<Data>;
  /** What one of them is about, in a few words, for the page of jobs; without it only its kind is shown. */
  about?(data: Data): string;
  /** May be called again with the same data, after half of it was done: it has to bear that. Throws in words for people. */
  run(data: Data, job: JobRun): Promise<void>;
  /** Tries at most, the first included; after the last it is kept as failed until a person decides. */
  readonly tries: number;
  /** s before the second try; each further wait is about twice as long, a little by chance. */
  readonly firstWaitS: number;
  /** s after which a try is broken off and counts as failed. */
  readonly deadlineS: number;
  /** How many of them one worker runs at once. */
  readonly atOnce: number;
  /** It recurs: begun once in each stretch of so many seconds, by whichever worker comes first. Its data is {}. */
  readonly everyS: number | null;
};

type Given<Data> = Pick<Job<Data>, "name" | "title" | "schema" | "run"> &
  Partial<Pick<Job<Data>, "tries" | "about" | "firstWaitS" | "deadlineS" | "atOnce" | "everyS">>;

/** A kind of job. Waits of 5 s, 10 s, 20 s ... are common practice, no source: seven of them are about 10 minutes. */
export function defineJob<Data>(given: Given<Data>): Job<Data> {
  return { tries: 8, firstWaitS: 5, deadlineS: 300, atOnce: 1, everyS: null, ...given };
}
