import { readdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

/** One figure of a bench: lower is better; a goal of null is for information. */
export type BenchLine = Readonly<{ name: string; value: number; goal: number | null }>;

/** Runs `bench` of every other file in this folder, prints its figures and fails where one misses its goal. */
async function run(): Promise<void> {
  const folder = import.meta.dirname;
  const only = process.argv.slice(2);
  const names = readdirSync(folder)
    .filter((file) => file.endsWith(".ts") && file !== "run.ts")
    .map((file) => file.slice(0, -3))
    .filter((name) => only.length === 0 || only.includes(name))
    .sort();
  let missed = 0;
  for (const name of names) {
    const loaded = (await import(pathToFileURL(path.join(folder, `${name}.ts`)).href)) as {
      bench: () => BenchLine[] | Promise<BenchLine[]>;
    };
    for (const line of await loaded.bench()) {
      const met = line.goal === null || line.value <= line.goal;
      if (!met) missed++;
      const goal = line.goal === null ? "" : ` (goal: at most ${line.goal})${met ? "" : " MISSED"}`;
      process.stdout.write(`${name}: ${line.name}: ${line.value.toPrecision(3)}${goal}\n`);
    }
  }
  if (missed > 0) process.exitCode = 1;
}

await run();
