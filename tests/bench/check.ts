import { spawnSync } from "node:child_process";
import path from "node:path";
import type { BenchLine } from "./run";

const ROOT = path.join(import.meta.dirname, "../..");
const RUNS = 5;

/** Wall-clock time of `check` of 300 frames with what they mean, the whole process, s; beside it Node alone, as its floor. */
export function bench(): BenchLine[] {
  const seconds = (args: readonly string[]): number => {
    const from = performance.now();
    const { status } = spawnSync(process.execPath, args, { cwd: ROOT, stdio: "ignore" });
    if (status !== 0) throw new Error(`check: ${args.join(" ")} ended with ${status}`);
    return (performance.now() - from) / 1000;
  };
  const median = (args: readonly string[]): number =>
    Array.from({ length: RUNS }, () => seconds(args)).sort((a, b) => a - b)[(RUNS - 1) / 2] ?? Number.NaN;
  const file = ["lib/cli/run.mjs", "lib/cli/check.ts", "public/examples/good.csv", "--json"];
  return [
    { name: "300 frames with --json, whole process, s", value: median(file), goal: 2 },
    { name: "Node that does nothing, s", value: median(["-e", "0"]), goal: null },
  ];
}
