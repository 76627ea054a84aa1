import "server-only";
import { execFileSync } from "node:child_process";
import { readdirSync, readFileSync, readlinkSync } from "node:fs";
import { setTimeout as sleep } from "node:timers/promises";

const POLL_MS = 20;

function readOrNull(file: string): string | null {
  try {
    return readFileSync(file, "utf8");
  } catch {
    return null;
  }
}

/** Fields of /proc/PID/stat from the third on (state, parent, ...); the name before them may hold anything. */
function statFields(pid: number): readonly string[] | null {
  const text = readOrNull(`/proc/${pid}/stat`);
  return text === null ? null : text.slice(text.lastIndexOf(")") + 2).split(" ");
}

function answersSignal(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "EPERM";
  }
}

/** Whether a process runs. A zombie does not: it only waits for its parent to notice. */
export function isRunning(pid: number): boolean {
  if (!Number.isInteger(pid) || pid <= 0 || !answersSignal(pid)) return false;
  const state = statFields(pid)?.[0];
  return state !== "Z" && state !== "X";
}

/** A text that another process with the same number would not have: when it began. Empty where that cannot be read. */
export function startMark(pid: number): string {
  const ticks = statFields(pid)?.[19];
  if (ticks !== undefined) return ticks;
  try {
    return execFileSync("ps", ["-o", "lstart=", "-p", String(pid)], { encoding: "utf8", stdio: "pipe" }).trim();
  } catch {
    return "";
  }
}

/** Working folder of a process, or null where the system does not tell. */
export function workingFolder(pid: number): string | null {
  try {
    return readlinkSync(`/proc/${pid}/cwd`);
  } catch {
    return null;
  }
}

/** Name of the program that a process runs, or null where the system does not tell. */
export function programName(pid: number): string | null {
  const name = readOrNull(`/proc/${pid}/comm`);
  if (name !== null) return name.trim();
  try {
    return execFileSync("ps", ["-o", "comm=", "-p", String(pid)], { encoding: "utf8", stdio: "pipe" }).trim();
  } catch {
    return null;
  }
}

/** Processes that work in a folder (Linux; elsewhere none are found). */
export function processesIn(folder: string): readonly number[] {
  try {
    return readdirSync("/proc")
      .filter((name) => /^\d+$/.test(name))
      .map(Number)
      .filter((pid) => workingFolder(pid) === folder && isRunning(pid));
  } catch {
    return [];
  }
}

/** @returns true as soon as the process has ended, false when it still runs after `timeoutMs` */
export async function waitForEnd(pid: number, timeoutMs: number): Promise<boolean> {
  const deadline = performance.now() + timeoutMs;
  while (isRunning(pid)) {
    if (performance.now() > deadline) return false;
    await sleep(POLL_MS);
  }
  return true;
}

/** Sends a signal; a process that is gone already is what was wanted. */
export function signal(pid: number, name: NodeJS.Signals): void {
  try {
    process.kill(pid, name);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== "ESRCH") throw error;
  }
}
