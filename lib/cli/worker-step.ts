import type { ChildProcess } from "node:child_process";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { AppError } from "@/lib/errors";
import type { Children } from "./children";
import type { Lifecycle } from "./lifecycle";
import { keepStarted } from "./restart-policy";

const READY_TIMEOUT_MS = 60_000;
/** After so many ends that nothing else helps: what waits is kept, and the plant goes on without it meanwhile. */
const GIVEN_UP_MS = 600_000;

type WorkerStep = {
  readonly root: string;
  readonly env: NodeJS.ProcessEnv;
  readonly children: Children;
  readonly lifecycle: Lifecycle;
  readonly warn: (text: string) => void;
};

function waitUntilReady(child: ChildProcess): Promise<void> {
  return new Promise((resolve, reject) => {
    const giveUp = (why: string): void => reject(new AppError("unavailable", `The worker did not start: ${why}`));
    const timer = setTimeout(() => giveUp(`not ready after ${READY_TIMEOUT_MS / 1000} s`), READY_TIMEOUT_MS);
    child.stdout?.once("data", () => {
      clearTimeout(timer);
      resolve();
    });
    child.once("error", (error) => giveUp(error.message));
    child.once("exit", (code, signal) => {
      clearTimeout(timer);
      giveUp(`it ended with ${signal ?? code}`);
    });
  });
}

/** Starts the worker, which does what happens later, and again if it ends by itself. */
export async function startWorkerProcess(step: WorkerStep): Promise<void> {
  const { root, env, children, lifecycle, warn } = step;
  const start = async (): Promise<void> => {
    const child = children.start([path.join(root, "lib/cli/run.mjs"), "lib/cli/worker.ts"], {
      cwd: root,
      env,
      stdio: ["ignore", "pipe", "inherit"],
    });
    try {
      await waitUntilReady(child);
    } catch (error) {
      await children.stop(child);
      throw error;
    }
    child.stdout?.resume();
    child.once("exit", () => void startAgain());
  };
  let retry: NodeJS.Timeout | undefined;
  lifecycle.onStop(() => clearTimeout(retry));
  const startAgain = keepStarted({
    name: "The worker",
    start,
    isEnding: () => lifecycle.isEnding,
    warn,
    fail: (error) => {
      const why = error instanceof Error ? error.message : String(error);
      warn(`${why} It is started again in ${GIVEN_UP_MS / 60_000} minutes; what waits for it is kept.`);
      retry = setTimeout(() => void startAgain(), GIVEN_UP_MS);
    },
    sleep,
    now: Date.now,
  });
  await start();
}
