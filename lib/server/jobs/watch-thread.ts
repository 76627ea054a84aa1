import "server-only";
import { Worker } from "node:worker_threads";

const BEAT_MS = 500;

// Sleeps and looks by turns; the thread that it watches cannot hold it up.
const PROGRAM = `
const { workerData: { beats, patienceMs } } = require("node:worker_threads");
for (let before = -1; ; ) {
  const now = Atomics.load(beats, 0);
  if (now === before) process.kill(process.pid, "SIGKILL");
  before = now;
  Atomics.wait(beats, 1, 0, patienceMs);
}`;

/**
 * Ends this process where its main thread does nothing else for so long, as an endless computation keeps it: no deadline could
 * break that off, and no other worker would know.
 */
export function watchThread(patienceMs: number): void {
  const beats = new Int32Array(new SharedArrayBuffer(8));
  setInterval(() => Atomics.add(beats, 0, 1), BEAT_MS).unref();
  new Worker(PROGRAM, { eval: true, workerData: { beats, patienceMs } }).unref();
}
