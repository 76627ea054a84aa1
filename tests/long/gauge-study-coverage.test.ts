import { expect, it } from "vitest";
import { studyComponents, type StudySds } from "@/lib/core/gauge-studies/study-components";
import { anovaOf, drawnStudy, seeded, type TrueSds } from "../core/gauge-studies/gauge-study-cases";

const RUNS = 4000;
const KEYS = ["repeatability", "reproducibility", "interaction", "gauge", "part", "total"] as const;

const sdsOf = ({ part, inspector, interaction, repeatability }: TrueSds): StudySds => {
  const gauge = Math.hypot(inspector, interaction, repeatability);
  return { repeatability, reproducibility: inspector, interaction, gauge, part, total: Math.hypot(gauge, part) };
};

/** Designs and truths: usual ones, few inspectors, a poor gauge, and no interaction with pooling as by default. */
const DESIGNS: readonly (readonly [string, readonly [number, number, number], TrueSds, number])[] = [
  ["10 x 3 x 3", [10, 3, 3], { part: 5, inspector: 1, interaction: 0.7, repeatability: 1 }, 1],
  ["10 x 3 x 2, poor gauge", [10, 3, 2], { part: 1, inspector: 1, interaction: 1, repeatability: 1 }, 1],
  ["20 x 6 x 2", [20, 6, 2], { part: 3, inspector: 0.5, interaction: 0.5, repeatability: 1 }, 1],
  ["6 x 2 x 4", [6, 2, 4], { part: 4, inspector: 2, interaction: 1, repeatability: 1 }, 1],
  ["10 x 3 x 3, none, pooled by p", [10, 3, 3], { part: 5, inspector: 1, interaction: 0, repeatability: 1 }, 0.25],
  ["10 x 3 x 3, weak, pooled by p", [10, 3, 3], { part: 5, inspector: 1, interaction: 0.4, repeatability: 1 }, 0.25],
  ["10 x 5 x 2, strong, pooled by p", [10, 5, 2], { part: 5, inspector: 1, interaction: 2, repeatability: 1 }, 0.25],
];

it.each(DESIGNS)("intervals of 95 %% cover 93 to 97 %% in %s", (name, design, truth, alpha) => {
  const generator = seeded(20_261_130);
  const sds = sdsOf(truth);
  const covered: Record<string, number> = {};
  const count = (key: string, lower: number, upper: number, value: number) => {
    covered[key] = (covered[key] ?? 0) + (lower <= value && value <= upper ? 1 : 0);
  };
  for (let run = 0; run < RUNS; run += 1) {
    const { intervals, gaugeShareInterval } = studyComponents(anovaOf(drawnStudy(generator, design, truth)), { alpha });
    for (const key of KEYS) count(key, ...intervals[key], sds[key]);
    count("share", ...gaugeShareInterval, (sds.gauge / sds.total) ** 2);
  }
  const told = Object.entries(covered).map(([key, times]) => `${key} ${((100 * times) / RUNS).toFixed(1)}`);
  console.info(`${name}: ${told.join(", ")}`);
  // A variance of 0 is covered by every interval that reaches 0: nothing is asked of it but not to miss more often.
  const asked = Object.entries(covered).filter(([key]) => !(key === "interaction" && sds.interaction === 0));
  for (const [key, times] of asked) {
    expect(times / RUNS, key).toBeGreaterThanOrEqual(0.93);
    expect(times / RUNS, key).toBeLessThanOrEqual(0.97);
  }
});
