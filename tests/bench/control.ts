import { mean, sampleStandardDeviation } from "simple-statistics";
import { chartConstants } from "@/lib/core/control/charts/chart-constants";
import { individualsChart } from "@/lib/core/control/charts/individuals-chart";
import { meanChart } from "@/lib/core/control/charts/mean-chart";
import { rulesRunLength } from "@/lib/core/control/run-length/rules-run-length";
import { EIGHT_TESTS, LIMIT_TEST_ONLY, ZONE_TESTS } from "@/lib/core/control/rules/run-rules";
import { scanIndividuals } from "@/lib/core/control/rules/scan-run-rules";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import type { BenchLine } from "./run";

const COUNT = 1_000_000;
const SUBGROUP = 5;

function elapsedMs(work: () => unknown): number {
  const start = performance.now();
  work();
  return performance.now() - start;
}

/** Shortest of several runs, ms: what else the machine does only ever adds. */
function shortestMs(repeats: number, work: () => unknown): number {
  return Math.min(...Array.from({ length: repeats }, () => elapsedMs(work)));
}

/**
 * The mean-and-S chart by the usual means: means and deviations of plain arrays by simple-statistics, the same columns, and
 * the points beyond the limits.
 */
function meanChartBySimpleStatistics(readings: readonly number[]) {
  const { A3, B3, B4 } = chartConstants(SUBGROUP);
  const means: number[] = [];
  const deviations: number[] = [];
  for (let start = 0; start < readings.length; start += SUBGROUP) {
    const subgroup = readings.slice(start, start + SUBGROUP);
    means.push(mean(subgroup));
    deviations.push(sampleStandardDeviation(subgroup));
  }
  const centre = mean(means);
  const spread = mean(deviations);
  const line = (value: number) => new Array<number>(means.length).fill(value);
  return {
    means,
    deviations,
    sizes: line(SUBGROUP),
    ofMeans: [line(centre), line(centre - A3 * spread), line(centre + A3 * spread), line((A3 * spread) / 3)],
    ofDeviations: [line(spread), line(B3 * spread), line(B4 * spread)],
    meansBeyond: means.flatMap((value, index) => (Math.abs(value - centre) > A3 * spread ? [index] : [])),
    deviationsBeyond: deviations.flatMap((value, index) => (value < B3 * spread || value > B4 * spread ? [index] : [])),
  };
}

/** Speed of the control charts, each figure with its goal. */
export function bench(): BenchLine[] {
  const generator = createSeededGenerator(41);
  const values = Float64Array.from({ length: COUNT }, () => generator.normal());
  const bareSum = () => {
    let sum = 0;
    for (let index = 0; index < values.length; index++) sum += values[index]!;
    return sum;
  };
  const scanRatio =
    shortestMs(20, () => scanIndividuals(values, { centre: 0, sigma: 1 }, EIGHT_TESTS)) / shortestMs(30, bareSum);

  const runLengthMs = shortestMs(5, () => rulesRunLength(ZONE_TESTS, { shift: 0.5 }));
  const firstRunLengthMs = shortestMs(1, () => rulesRunLength(ZONE_TESTS, { shift: 0.25, limit: 3.1 }));

  const readings = [...values];
  const rows = { readings: values, size: SUBGROUP };
  const plainChartMs = shortestMs(20, () => meanChartBySimpleStatistics(readings));
  const meanChartRatio = shortestMs(20, () => meanChart(rows, { rules: LIMIT_TEST_ONLY })) / plainChartMs;
  const zonedChartRatio = shortestMs(20, () => meanChart(rows)) / plainChartMs;
  const plain = [...values.subarray(0, 100_000)];
  const chartMs = shortestMs(5, () => individualsChart(plain, { rules: EIGHT_TESTS }));

  return [
    { name: "eight tests and moving range over 1,000,000 individuals / bare sum", value: scanRatio, goal: 60 },
    { name: "exact run length of the four zone tests, ms", value: runLengthMs, goal: 50 },
    { name: "the same at another limit, first time, ms", value: firstRunLengthMs, goal: 50 },
    { name: "mean-and-S chart of 1,000,000 values / simple-statistics", value: meanChartRatio, goal: 0.5 },
    { name: "the same with the four zone tests, which the other has not", value: zonedChartRatio, goal: null },
    { name: "individuals chart of 100,000 values with eight tests, ms", value: chartMs, goal: null },
  ];
}
