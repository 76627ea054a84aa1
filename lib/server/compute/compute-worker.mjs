// The thread that computes. The built application has its program as one file (lib/cli/bundle-computing.mjs), which is there
// at once; elsewhere the project's TypeScript is loaded as the commands of lib/cli load it.
import { readlinkSync } from "node:fs";
import { register as registerHooks } from "node:module";
import os from "node:os";
import path from "node:path";
import { pathToFileURL } from "node:url";
import { parentPort, workerData } from "node:worker_threads";

const ROOT = path.resolve(import.meta.dirname, "../../..");

async function loadSources() {
  // Resolves as `node --conditions=react-server` does, so that "server-only" is the empty module it is on a server.
  const conditions = `export const resolve = (specifier, context, next) =>
    next(specifier, { ...context, conditions: [...context.conditions, "react-server"] });`;
  const { register } = await import("tsx/esm/api");
  register({ tsconfig: path.join(ROOT, "tsconfig.json") });
  registerHooks(`data:text/javascript,${encodeURIComponent(conditions)}`);
  return import("./answer-task.ts");
}

/** How much less of a busy processor this thread gets than the one that records (nice 5: a third). */
const STEPS_BACK = 5;

/** Recording comes first. On Linux each thread has a priority of its own, elsewhere this one competes as any other. */
function stepBack() {
  if (process.platform !== "linux") return;
  try {
    os.setPriority(Number(path.basename(readlinkSync("/proc/thread-self"))), STEPS_BACK);
  } catch {
    // Without /proc, or where it is not allowed: it computes all the same.
  }
}

// From sources it is developed and tested, where nobody records and the compiler takes its time as well.
if (workerData.program !== null) stepBack();
const { answerTask } = await (workerData.program === null
  ? loadSources()
  : import(pathToFileURL(workerData.program).href));

parentPort?.on("message", ({ id, task, input }) => {
  const { reply, transfer } = answerTask(task, input);
  parentPort?.postMessage({ id, ...reply }, transfer);
});
parentPort?.postMessage({ ready: true });
