import "server-only";
import { existsSync } from "node:fs";
import path from "node:path";
import { Worker } from "node:worker_threads";
import { CoreError } from "@/lib/core/errors";
import { AppError } from "@/lib/errors";
import { environment } from "../base/env";
import type { Reply, Task, TaskInput, TaskOutput, ToldError } from "./answer-task";
import { COMPUTE_WORDS } from "./words";

const texts = COMPUTE_WORDS.compute;

/** Time that one request may wait and compute together, ms, from when the thread is there. */
const DEADLINE_MS = 5000;
/** Time that a thread may need to be there: its sources are compiled first where the application is not built. */
const START_MS = 60_000;
/** Requests that wait while one is computed; what comes after them is refused at once. */
const MOST_WAITING = 16;
/** Memory of the computing thread, MB: what needs more is refused instead of taking the process with it. */
const MOST_MEMORY_MB = 768;

type Job = {
  readonly id: number;
  readonly task: Task;
  readonly input: unknown;
  readonly resolve: (value: unknown) => void;
  readonly reject: (told: ToldError) => void;
  timer: NodeJS.Timeout | null;
};

/** The thread's program as one file; null in development and tests, where its sources are loaded. */
function builtProgram(): string | null {
  const file = path.join(/* turbopackIgnore: true */ process.cwd(), ".next/computing.mjs");
  return environment("NODE_ENV") === "production" && existsSync(file) ? file : null;
}

const refusal = (code: "unavailable" | "too-large", message: string, details: Record<string, unknown>): ToldError => ({
  kind: "app",
  code,
  message,
  details,
  fields: [],
});
const busy = (words: string): ToldError =>
  refusal("unavailable", `${words} Nothing was changed; try again in a moment, or ask for less at once.`, {
    retryAfterSeconds: DEADLINE_MS / 1000,
  });
const unexpected = (error: Error): ToldError => ({ kind: "other", stack: error.stack ?? error.message });
const TOO_LATE = `The answer was not ready within ${DEADLINE_MS / 1000} seconds.`;
const TOO_MANY = `${MOST_WAITING} calculations are waiting already.`;

function asError(told: ToldError): Error {
  switch (told.kind) {
    case "app":
      return new AppError(told.code, told.message, { details: { ...told.details }, fields: told.fields });
    case "core":
      return new CoreError(told.code, told.message, told.data);
    case "other":
      return new Error(`The computing thread failed: ${told.stack}`);
  }
}

/** One thread beside the one that answers: it works its queue off one by one, and is made anew where it does not come back. */
class ComputingThread {
  private worker: Worker | null = null;
  private ready = false;
  private running: Job | null = null;
  private readonly waiting: Job[] = [];
  private newest = 0;

  /** Makes the thread, so that the first who asks need not wait for it. */
  start(): void {
    if (this.worker !== null) return;
    const file = path.join(/* turbopackIgnore: true */ process.cwd(), "lib/server/compute/compute-worker.mjs");
    const worker = new Worker(/* turbopackIgnore: true */ file, {
      resourceLimits: { maxOldGenerationSizeMb: MOST_MEMORY_MB },
      workerData: { program: builtProgram() },
    });
    const late = setTimeout(() => {
      void worker.terminate();
    }, START_MS);
    late.unref();
    // A process that has nothing else to do ends.
    worker.unref();
    worker.on("message", (message: ({ id: number } & Reply) | { ready: true }) => {
      if (worker !== this.worker) return;
      if ("ready" in message) {
        clearTimeout(late);
        this.ready = true;
        for (const job of this.waiting) this.watch(job);
        this.next();
      } else this.finish(message);
    });
    worker.on("error", (error: NodeJS.ErrnoException) => this.lose(worker, error));
    worker.on("exit", () => this.lose(worker, new Error("The computing thread ended by itself.")));
    this.worker = worker;
    this.ready = false;
  }

  ask(task: Task, input: unknown): Promise<Reply> {
    if (this.waiting.length >= MOST_WAITING) return Promise.resolve({ error: busy(TOO_MANY) });
    return new Promise((settle) => {
      const resolve = (value: unknown) => settle({ value });
      const reject = (error: ToldError) => settle({ error });
      this.newest += 1;
      const job: Job = { id: this.newest, task, input, resolve, reject, timer: null };
      this.waiting.push(job);
      this.start();
      if (this.ready) this.watch(job);
      this.next();
    });
  }

  private watch(job: Job): void {
    job.timer ??= setTimeout(() => this.giveUp(job), DEADLINE_MS);
  }

  private next(): void {
    if (!this.ready || this.running !== null) return;
    const job = this.waiting.shift();
    if (job === undefined) return;
    this.running = job;
    const { id, task, input } = job;
    this.worker?.postMessage({ id, task, input });
  }

  private finish(message: { id: number } & Reply): void {
    const job = this.running;
    if (job === null || message.id !== job.id) return;
    this.running = null;
    this.stopWatch(job);
    if ("error" in message) job.reject(message.error);
    else job.resolve(message.value);
    this.next();
  }

  /** The time of a job is over: one that waits is let go, one that is computed takes its thread with it. */
  private giveUp(job: Job): void {
    job.reject(busy(TOO_LATE));
    const place = this.waiting.indexOf(job);
    if (place >= 0) this.waiting.splice(place, 1);
    if (this.running === job) this.renew();
  }

  private lose(worker: Worker, error: NodeJS.ErrnoException): void {
    if (worker !== this.worker) return;
    const job = this.running;
    if (job !== null) {
      this.stopWatch(job);
      const isMemory = error.code === "ERR_WORKER_OUT_OF_MEMORY";
      const words = texts.needsMoreMemory;
      job.reject(isMemory ? refusal("too-large", words, {}) : unexpected(error));
    }
    // A thread that cannot even start would be made for ever: the next who asks makes it.
    const hasStarted = this.ready;
    this.drop();
    if (hasStarted) this.start();
    else for (const waiting of this.waiting.splice(0)) this.fail(waiting, error);
  }

  private fail(job: Job, error: Error): void {
    this.stopWatch(job);
    job.reject(unexpected(error));
  }

  private stopWatch({ timer }: Job): void {
    if (timer !== null) clearTimeout(timer);
  }

  private drop(): Worker | null {
    const { worker } = this;
    this.worker = null;
    this.ready = false;
    this.running = null;
    return worker;
  }

  private renew(): void {
    void this.drop()?.terminate();
    this.start();
  }
}

const own = globalThis as { shellgateComputing?: ComputingThread };
/** One for the process, also where the development server loads this file again. */
const thread = (own.shellgateComputing ??= new ComputingThread());

/** Makes the computing thread ahead of the first request. */
export function startComputing(): void {
  thread.start();
}

/**
 * Computes beside the thread that answers requests, so that nobody who records waits for it.
 *
 * @throws AppError unavailable where too many wait or the deadline is over, too-large; what the task throws
 */
export async function compute<T extends Task>(task: T, input: TaskInput<T>): Promise<TaskOutput<T>> {
  const reply = await thread.ask(task, input);
  // Made into an error here: the thread may belong to another part of the build, whose classes are not these.
  if ("error" in reply) throw asError(reply.error);
  return reply.value as TaskOutput<T>;
}
