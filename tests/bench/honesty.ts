import { runMeasuringRoom, type Share } from "./honesty/tally";
import type { BenchLine } from "./run";

/** True shells, each measured by three plans; half a minute a thousand on a busy machine. */
const SHELLS = Number(process.env.HONESTY_SHELLS ?? 21_000);
const SEED = Number(process.env.HONESTY_SEED ?? 11);

const percent = ({ hits, of }: Share): number => (of === 0 ? 0 : (100 * hits) / of);

/**
 * The simulated measuring room: how often a bad shell passes, a good one is condemned or left open without a named cause, and how
 * often U covers the true error. Figures are percentages; of coverage, the distance from 95.5 (the goal is 94 to 97).
 */
export function bench(): BenchLine[] {
  const { groups, coverage } = runMeasuringRoom({ shells: SHELLS, seed: SEED });
  const sorted = [...groups].sort(([a], [b]) => a.localeCompare(b));
  return [
    ...sorted.flatMap(([key, { passedBad, condemnedGood, leftOpen, leftOpenWellInside }]): BenchLine[] => [
      { name: `${key}: bad (${passedBad.of}) conforms, %`, value: percent(passedBad), goal: 2.5 },
      { name: `${key}: good (${condemnedGood.of}) does not conform, %`, value: percent(condemnedGood), goal: 2.5 },
      {
        name: `${key}: good (${leftOpen.of}) not proven without a named cause, %`,
        value: percent(leftOpen),
        goal: null,
      },
      {
        name: `${key}: inside by 2 U (${leftOpenWellInside.of}) not proven without a named cause, %`,
        value: percent(leftOpenWellInside),
        goal: 5,
      },
    ]),
    ...[...coverage]
      .sort(([a], [b]) => a.localeCompare(b))
      .flatMap(([key, { covered, flattered }]): BenchLine[] => [
        { name: `${key}: U covers, of ${covered.of}, %`, value: percent(covered), goal: null },
        { name: `${key}: beyond U to the shell's favour, %`, value: percent(flattered), goal: 3 },
      ]),
  ];
}
