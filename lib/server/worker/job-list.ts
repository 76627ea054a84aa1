import "server-only";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { listWorkers } from "../jobs/workers";
import { ALL_JOBS, findJob, titleOf } from "./all-jobs";

const MOST_OF_A_KIND = 10;

export type JobState = "failed" | "running" | "waiting";

/** One job that is not done. Times ISO 8601, ages in s. */
export type JobItem = {
  readonly name: string;
  readonly id: string;
  readonly state: JobState;
  /** What it is about, in words; "" where its kind says nothing of it. */
  readonly about: string;
  /** The error of the last try that failed, in words; null where none did. */
  readonly words: string | null;
  /** Tries that were begun, and how many there are at most. */
  readonly tried: number;
  readonly tries: number;
  readonly ageS: number;
  /** When it failed, was begun, or may begin. */
  readonly at: string;
};

/** A kind of job with what is not done of it: the newest that failed, the first that wait. */
export type JobKindItem = {
  readonly name: string;
  readonly title: string;
  /** s between two, where it recurs. */
  readonly everyS: number | null;
  /** Whether this version of Shellgate can do it. */
  readonly isKnown: boolean;
  readonly counts: Readonly<Record<JobState | "done", number>>;
  /** When the last one was done. */
  readonly doneAt: string | null;
  readonly items: readonly JobItem[];
};

export type JobPage = {
  readonly workers: readonly {
    readonly place: string;
    readonly version: string;
    readonly startedAt: string;
    readonly heardS: number;
  }[];
  readonly kinds: readonly JobKindItem[];
};

type Row = {
  name: string;
  id: string;
  data: unknown;
  state: JobState;
  words: string | null;
  started: boolean;
  retryCount: number;
  retryLimit: number;
  ageS: number;
  at: Date;
};

/** Data of another version is about nothing that this one can tell. */
function aboutOf(name: string, data: unknown): string {
  const job = findJob(name);
  const read = job?.schema.safeParse(data);
  return read?.success === true ? (job?.about?.(read.data) ?? "") : "";
}

function itemOf({ started, retryCount, retryLimit, data, at, ...row }: Row): JobItem {
  return {
    ...row,
    about: aboutOf(row.name, data),
    tried: started ? retryCount + 1 : retryCount,
    tries: retryLimit + 1,
    at: at.toISOString(),
  };
}

type CountRow = { name: string; failed: number; running: number; waiting: number; done: number; doneAt: Date | null };

/** What waits, runs and failed, of the viewer's plant and of Shellgate itself: kinds with something that failed first. */
export async function listJobs(viewer: Viewer): Promise<JobPage> {
  assertMay(viewer, "jobs.view");
  const { plantId } = viewer;
  const { rows: counts } = await getPool().query<CountRow>(sql`
    select q.name, count(*) filter (where j.state = 'failed')::int as failed, count(*) filter (where j.state = 'active')::int as running,
      count(*) filter (where j.state < 'active')::int as waiting, count(*) filter (where j.state = 'completed')::int as done,
      max(j.completed_on) filter (where j.state = 'completed') as "doneAt"
    from jobs.queue q left join jobs.job j on j.name = q.name and coalesce(j.data ->> 'plantId', ${plantId}) = ${plantId}
    group by q.name`);
  const { rows } = await getPool().query<Row>(sql`
    select name, id, data, state, words, started, "retryCount", "retryLimit", "ageS", at from (
      select name, id, data, case state when 'failed' then 'failed' when 'active' then 'running' else 'waiting' end as state,
        output ->> 'message' as words, started_on is not null as started, retry_count as "retryCount", retry_limit as "retryLimit",
        extract(epoch from now() - created_on)::float8 as "ageS",
        case state when 'failed' then completed_on when 'active' then started_on else start_after end as at,
        row_number() over (partition by name, state order by case when state = 'failed' then completed_on end desc, start_after, id) as place
      from jobs.job where state in ('created', 'retry', 'active', 'failed') and coalesce(data ->> 'plantId', ${plantId}) = ${plantId}) as j
    where place <= ${MOST_OF_A_KIND} order by place`);
  const items = rows.map(itemOf);
  const countsOf = new Map(counts.map((row) => [row.name, row]));
  const names = [...new Set([...ALL_JOBS.map(({ name }) => name), ...countsOf.keys()])];
  const kinds = names.map((name): JobKindItem => {
    const { failed = 0, running = 0, waiting = 0, done = 0, doneAt = null } = countsOf.get(name) ?? {};
    const job = findJob(name);
    return {
      name,
      title: titleOf(name),
      everyS: job?.everyS ?? null,
      isKnown: job !== undefined,
      counts: { failed, running, waiting, done },
      doneAt: doneAt?.toISOString() ?? null,
      items: items.filter((item) => item.name === name),
    };
  });
  const workers = (await listWorkers()).map(({ startedAt, ...worker }) => ({
    ...worker,
    startedAt: startedAt.toISOString(),
  }));
  return {
    workers,
    kinds: kinds.toSorted((a, b) => b.counts.failed - a.counts.failed || a.title.localeCompare(b.title, "en")),
  };
}
