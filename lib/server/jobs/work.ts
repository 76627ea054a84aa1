import "server-only";
import os from "node:os";
import { setTimeout as sleep } from "node:timers/promises";
import pg from "pg";
import manifest from "../../../package.json";
import { environment } from "../base/env";
import { log } from "../base/log";
import { getPool } from "../db/client";
import type { Job } from "./define-job";
import { type Claimed, claim, enqueueRecurring, release } from "./queue";
import { BrokenOff, runClaimed, type Settle } from "./run-job";
import { dueNames, forgetWorker, holdWorker, mendQueue, noteHeard, reclaimLost, registerWorker } from "./workers";

/** How long a job that is due waits at most where the database's word of it was lost. */
const LOOK_MS = 1_000;
const HEARD_EACH = 5;
const MEND_EACH = 60;
const AGAIN_MS = 500;
/** A job's function that goes on so long after its deadline ends the worker: nothing else stops it. */
const STUBBORN_MS = 10_000;
/** What is under way at the end of the worker has so long; then it is given back. */
const LAST_MS = 4_000;
/** The number of a worker that has none yet. */
const NOT_KNOWN = 0;
/** Jobs of all kinds at once. Each takes a connection while it begins and ends only. */
const MOST_AT_ONCE = 8;

export type RunningWorker = {
  /** Settles when the worker cannot go on, with the words why: the process is to end. */
  readonly broken: Promise<string>;
  readonly stop: () => Promise<void>;
};

type Running = { readonly claimed: Claimed; readonly abort: AbortController; readonly ended: Promise<void> };

/** Does jobs of these kinds until it is stopped; any number of workers may run on one database. */
export async function startWorker(jobs: readonly Job[]): Promise<RunningWorker> {
  const worker = new Worker(jobs);
  await worker.start();
  return worker;
}

class Worker implements RunningWorker {
  readonly broken: Promise<string>;
  #breakOff: (words: string) => void = () => undefined;
  #id = NOT_KNOWN;
  #client: pg.Client | null = null;
  #isStopping = false;
  readonly #stopped = new AbortController();
  readonly #kinds: ReadonlyMap<string, Job>;
  readonly #running = new Map<string, Set<Running>>();
  /** Kinds whose next job is being looked for, and whether to look once more after that. */
  readonly #looking = new Map<string, boolean>();
  #loop: Promise<void> = Promise.resolve();
  #trouble = "";

  constructor(jobs: readonly Job[]) {
    this.#kinds = new Map(jobs.map((job) => [job.name, job]));
    this.broken = new Promise((resolve) => (this.#breakOff = resolve));
  }

  async start(): Promise<void> {
    // A worker that is started before its database waits for it.
    await this.#settle(() => this.#connect());
    this.#loop = this.#lookAgainAndAgain();
  }

  async stop(): Promise<void> {
    if (this.#isStopping) return;
    this.#isStopping = true;
    this.#stopped.abort();
    await this.#loop;
    const all = [...this.#running.values()].flatMap((set) => [...set]);
    await Promise.race([Promise.all(all.map(({ ended }) => ended)), sleep(LAST_MS, null, { ref: false })]);
    const left = [...this.#running.values()].flatMap((set) => [...set]);
    // Given back first: what is broken off now has no job to fail any more.
    await Promise.allSettled(left.map(({ claimed }) => release(claimed)));
    for (const { abort } of left) abort.abort(new Error("the worker was ended"));
    await forgetWorker(this.#id).catch(() => undefined);
    await this.#client?.end().catch(() => undefined);
  }

  /** A connection of its own, which says that the worker lives, and hears at once of what is new. */
  async #connect(): Promise<void> {
    const client = new pg.Client({
      connectionString: environment("DATABASE_URL"),
      connectionTimeoutMillis: 10_000,
      application_name: "shellgate worker",
      keepAlive: true,
    });
    const lost = (): void => {
      if (this.#client === client) this.#client = null;
    };
    client.on("error", lost);
    client.on("end", lost);
    client.on("notification", ({ payload = "" }) => this.#look(payload));
    if (this.#id === NOT_KNOWN)
      this.#id = await registerWorker(getPool(), `${os.hostname()}, process ${process.pid}`, manifest.version);
    await client.connect();
    // Of a connection that was lost the server may not know yet.
    if (await holdWorker(client, this.#id)) this.#client = client;
    else await client.end();
  }

  async #lookAgainAndAgain(): Promise<void> {
    for (let tick = 0; !this.#isStopping; tick += 1) {
      try {
        if (this.#client === null) await this.#connect();
        await this.#tick(tick);
        this.#noteTrouble("");
      } catch (error) {
        this.#noteTrouble(error instanceof Error ? error.message : String(error));
      }
      await this.#pause(LOOK_MS);
    }
  }

  async #tick(tick: number): Promise<void> {
    if (tick % HEARD_EACH === 0 && !(await noteHeard(this.#id))) return this.#beginAnew();
    if (tick % MEND_EACH === 0) await mendQueue();
    if (tick % HEARD_EACH === 0) await enqueueRecurring(getPool(), [...this.#kinds.values()]);
    const lost = await reclaimLost();
    if (lost > 0) log.warn("jobs of a worker that ended are begun again", { jobs: lost });
    for (const name of await dueNames([...this.#kinds.keys()])) this.#look(name);
  }

  /** After a long absence others have forgotten this worker, and have what it had begun: it goes on under another number. */
  async #beginAnew(): Promise<void> {
    const client = this.#client;
    [this.#id, this.#client] = [NOT_KNOWN, null];
    await client?.end();
    await this.#connect();
  }

  /** Said once while it lasts, not each second. */
  #noteTrouble(words: string): void {
    if (words === this.#trouble) return;
    this.#trouble = words;
    if (words === "") log.info("the worker goes on");
    else log.warn("the worker cannot work, tried again each second", { why: words });
  }

  async #pause(ms: number): Promise<void> {
    await sleep(ms, null, { signal: this.#stopped.signal }).catch(() => undefined);
  }

  #countOf(name: string): number {
    return this.#running.get(name)?.size ?? 0;
  }

  #hasRoom(job: Job): boolean {
    const all = [...this.#running.values()].reduce((sum, set) => sum + set.size, 0);
    return !this.#isStopping && all < MOST_AT_ONCE && this.#countOf(job.name) < job.atOnce;
  }

  /** Begins what is due of a kind, as much as there is room for. Unknown kinds belong to a newer Shellgate and are left alone. */
  #look(name: string): void {
    const job = this.#kinds.get(name);
    if (job === undefined) return;
    if (this.#looking.has(name)) {
      this.#looking.set(name, true);
      return;
    }
    this.#looking.set(name, false);
    this.#begin(job)
      .catch((error: unknown) => this.#noteTrouble(error instanceof Error ? error.message : String(error)))
      .finally(() => {
        const again = this.#looking.get(name) === true;
        this.#looking.delete(name);
        if (again) this.#look(name);
      });
  }

  async #begin(job: Job): Promise<void> {
    while (this.#client !== null && this.#hasRoom(job)) {
      const claimed = await claim(job.name, this.#id);
      if (claimed === null) return;
      this.#run(job, claimed);
    }
  }

  #run(job: Job, claimed: Claimed): void {
    const abort = new AbortController();
    const deadline = setTimeout(
      () => abort.abort(new BrokenOff(`It did not end within ${job.deadlineS} s and was broken off.`)),
      job.deadlineS * 1000,
    );
    const set = this.#running.get(job.name) ?? new Set();
    this.#running.set(job.name, set);
    const ended = this.#runToItsEnd(job, claimed, abort.signal).finally(() => {
      clearTimeout(deadline);
      set.delete(running);
      if (!this.#isStopping) this.#look(job.name);
    });
    const running: Running = { claimed, abort, ended };
    set.add(running);
  }

  async #runToItsEnd(job: Job, claimed: Claimed, signal: AbortSignal): Promise<void> {
    const { left } = await runClaimed(job, claimed, signal, this.#settle);
    const stubborn = setTimeout(
      () => this.#breakOff(`The job ${job.name} goes on after its deadline and cannot be stopped.`),
      STUBBORN_MS,
    ).unref();
    await left.finally(() => clearTimeout(stubborn));
  }

  /** How a job went is written when the database is there again; until then its place stays taken. */
  readonly #settle: Settle = async (write) => {
    for (;;) {
      try {
        return await write();
      } catch (error) {
        if (this.#isStopping) throw error;
        this.#noteTrouble(error instanceof Error ? error.message : String(error));
      }
      await this.#pause(AGAIN_MS);
    }
  };
}
