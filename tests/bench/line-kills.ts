import { runLineKills } from "../helpers/line-kills";
import type { BenchLine } from "./run";

const MINUTES = Number(process.env.LINE_KILL_MINUTES ?? "2");
const SEED = Number(process.env.LINE_KILL_SEED ?? "20260612");

/** Frames keyed at three stations while everything that can be killed is killed, for some minutes; faults must be none. */
export async function bench(): Promise<BenchLine[]> {
  const result = await runLineKills({
    seed: SEED,
    stations: 3,
    frames: 667,
    kills: 360,
    budgetMs: MINUTES * 60_000,
    tell: (line) => process.stderr.write(`${line}\n`),
  });
  for (const fault of result.faults) process.stderr.write(`${fault}\n`);
  const told = (name: string, value: number): BenchLine => ({ name, value, goal: null });
  return [
    told("frames finished", result.frames),
    told("readings", result.readings),
    ...Object.entries(result.kills).map(([kill, count]) => told(`kills, ${kill}`, count)),
    told("readings keyed again", result.keyedAgain),
    { name: "faults", value: result.faults.length, goal: 0 },
  ];
}
