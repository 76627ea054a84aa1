import { readdirSync } from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

/**
 * One figure of a bench: lower is better; a goal of null is for information. `least` makes the goal a range. A miss that is
 * known and explained is printed as a miss and fails only where it is beyond `known` (below it, where that is under `least`).
 */
export type BenchLine = Readonly<{ name: string; value: number; goal: number | null; least?: number; known?: number }>;

function goalText({ goal, least }: BenchLine): string {
  return least === undefined ? `at most ${goal}` : `${least} to ${goal}`;
}

type Outcome = { readonly text: string; readonly fails: boolean };

/** Says of a figure with a goal whether it is reached, and whether its miss fails the bench. */
function outcome(line: BenchLine): Outcome {
  const { value, goal, least = -Infinity, known } = line;
  if (goal === null) return { text: "", fails: false };
  const said = ` (goal: ${goalText(line)}) `;
  if (value <= goal && value >= least) return { text: `${said}reached`, fails: false };
  const isKnown = known !== undefined && (value > goal ? value <= known : value >= known);
  return { text: `${said}MISSED${isKnown ? `, known up to ${known.toPrecision(3)}` : ""}`, fails: !isKnown };
}

/** Runs `bench` of every other file in this folder, prints its figures and fails where one misses its goal. */
async function run(): Promise<void> {
  const folder = import.meta.dirname;
  const only = process.argv.slice(2);
  const names = readdirSync(folder)
    .filter((file) => file.endsWith(".ts") && file !== "run.ts")
    .map((file) => file.slice(0, -3))
    .filter((name) => only.length === 0 || only.includes(name))
    .sort();
  let failed = 0;
  for (const name of names) {
    const loaded = (await import(pathToFileURL(path.join(folder, `${name}.ts`)).href)) as {
      bench: () => BenchLine[] | Promise<BenchLine[]>;
    };
    for (const line of await loaded.bench()) {
      const { text, fails } = outcome(line);
      if (fails) failed++;
      process.stdout.write(`${name}: ${line.name}: ${line.value.toPrecision(3)}${text}\n`);
    }
  }
  if (failed > 0) process.exitCode = 1;
}

await run();
