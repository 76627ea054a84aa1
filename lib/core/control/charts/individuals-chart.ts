import { CoreError } from "../../errors";
import { chartFactors, c4Factor, type ChartFactors, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartEstimates, ChartResult } from "./chart-result";
import {
  assertAllFinite,
  assertPositive,
  chartSignals,
  checkedExclusions,
  column,
  keptPoints,
  type ConstantLines,
} from "./chart-signals";
import { average, isRoundingNoise, median, standardDeviation } from "./point-statistics";
import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "../rules/run-rules";

/** How sigma of individuals is found: by neighbours (classical, robust), or from all values at once. */
export type IndividualsSigma = "mean-moving-range" | "median-moving-range" | "standard-deviation";

export type IndividualsOptions = Readonly<{
  /** Given centre; with `sigma` this makes a phase II chart. */
  mean?: number;
  /** Given standard deviation of one value. */
  sigma?: number;
  sigmaMethod?: IndividualsSigma;
  centreMethod?: "mean" | "median";
  /** Values a moving range spans, 2 by default. */
  span?: number;
  /** Multiple of sigma at which limits lie, 3 by default. */
  sigmas?: number;
  constants?: ConstantsChoice;
  rules?: readonly RunRule[];
  /** Indices left out of estimates and tests: frames with an assigned cause. */
  excluded?: readonly number[];
}>;

/**
 * Individuals chart with its moving-range chart.
 * Formula: sigma = MRbar / d2(span) | median(MR) / d4(span) | s / c4(n); limits mean -/+ 3 sigma; moving range
 * D3 d2 sigma, D4 d2 sigma about d2 sigma.
 *
 * @param values - number[n], n >= 2 unless mean and sigma are given, unit u, all finite, in the order of time
 * @param options - see IndividualsOptions
 * @returns main chart "individuals", one companion "moving-range"; its first span - 1 values are null. Moving ranges
 *   are taken between neighbours that are not excluded. ok: false with a reason if sigma cannot be estimated (too few
 *   values, no variation)
 * @throws CoreError not-finite if a value is not finite
 * @throws CoreError out-of-range for a sigma, span, sigmas or excluded index outside its range
 * Accuracy: the digits of tests/reference/control-charts.json
 * Edge cases: all values equal -> no answer; mean and sigma given -> phase 2, any n >= 1
 * Source: Montgomery, Introduction to Statistical Quality Control, 6.4; NIST/SEMATECH e-Handbook 6.3.2.2; robust
 *   estimate: Clifford 1959, Industrial Quality Control 15(11)
 * @example individualsChart([49.6, 47.6, 49.9, 51.3], {}) // ok, main.centre[0] = 49.6
 */
export function individualsChart(values: readonly number[], options: IndividualsOptions = {}): ChartEstimate {
  const { sigmaMethod = "mean-moving-range", span = 2, sigmas = 3, rules = ZONE_TESTS } = options;
  const name = "individualsChart";
  assertAllFinite(name, values);
  if (options.mean !== undefined) assertAllFinite(name, [options.mean], "mean");
  assertPositive(name, "sigma", options.sigma);
  assertPositive(name, "sigmas", sigmas);
  const excluded = checkedExclusions(name, options.excluded, values.length);
  const factors = chartFactors(span, options.constants, sigmas);
  const kept = keptPoints(values, excluded);
  const used = new Float64Array(kept.length);
  for (let position = 0; position < kept.length; position++) used[position] = values[kept[position]!]!;
  const given = options.mean !== undefined && options.sigma !== undefined;
  if (used.length === 0) return { ok: false, reason: "There is no value to chart." };

  const movingRange = column<number | null>(values.length, null);
  const ranges = new Float64Array(Math.max(0, kept.length - span + 1));
  for (let last = span - 1; last < kept.length; last++) {
    let largest = used[last]!;
    let smallest = largest;
    for (let index = last - span + 1; index < last; index++) {
      largest = Math.max(largest, used[index]!);
      smallest = Math.min(smallest, used[index]!);
    }
    const range = largest - smallest;
    movingRange[kept[last]!] = range;
    ranges[last - span + 1] = range;
  }
  if (options.sigma === undefined && ranges.length === 0) {
    return {
      ok: false,
      reason: `A moving range of ${span} needs at least ${span} values; there ${used.length === 1 ? "is 1" : `are ${used.length}`}.`,
    };
  }
  const estimated = sigmaOf(used, ranges, sigmaMethod, factors, options.constants ?? "exact");
  const sigma = options.sigma ?? estimated;
  if (isRoundingNoise(sigma, options.sigma === undefined ? used : [])) {
    const what = isRoundingNoise(average(ranges), used) ? "All values are equal" : "Most neighbouring values are equal";
    return {
      ok: false,
      reason: `${what}, so there is no variation to set limits from: check the gauge's resolution or give sigma.`,
    };
  }
  const mean = options.mean ?? (options.centreMethod === "median" ? median(used) : average(used));
  const meanMovingRange = ranges.length > 0 ? average(ranges) : null;
  const estimates: ChartEstimates = {
    centre: mean,
    sigma,
    sigmaMethod: options.sigma === undefined ? sigmaMethod : "given",
    count: used.length,
    details: {
      d2: factors.d2,
      ...(meanMovingRange === null ? {} : { meanMovingRange }),
      ...(sigmaMethod === "median-moving-range" && ranges.length > 0 ? { medianMovingRange: median(ranges) } : {}),
      ...(used.length > 1 ? { standardDeviation: standardDeviation(used) } : {}),
    },
  };
  const warnings = given ? [] : baselineWarnings(used.length);
  const phase = given ? 2 : 1;
  const shared = { phase, sizes: null, excluded, estimates, warnings } as const;
  const main = chartWithConstantLines(
    { ...shared, kind: "individuals", values: [...values], rules },
    { centre: mean, lower: mean - sigmas * sigma, upper: mean + sigmas * sigma, sigma },
  );
  const rangeCentre =
    options.sigma === undefined && sigmaMethod === "mean-moving-range" ? meanMovingRange! : factors.d2 * sigma;
  const companion = chartWithConstantLines(
    { ...shared, kind: "moving-range", values: movingRange, rules: LIMIT_TEST_ONLY },
    { centre: rangeCentre, lower: factors.D3 * rangeCentre, upper: factors.D4 * rangeCentre, sigma: null },
  );
  return { ok: true, value: { main, companions: [companion], estimates }, warnings };
}

/** A chart with the signals of its own rules on its own columns; `constant` as chartSignals. */
export function withSignals(chart: Omit<ChartResult, "signals">, constant: ConstantLines | null = null): ChartResult {
  return { ...chart, signals: chartSignals(chart, chart.excluded, chart.rules, constant) };
}

type ConstantChart = Omit<ChartResult, "signals" | "centre" | "sigma" | "lower" | "upper">;

/** A chart whose lines are the same at all points, with the signals of its own rules. */
export function chartWithConstantLines(chart: ConstantChart, lines: ConstantLines): ChartResult {
  const n = chart.values.length;
  const columns = {
    centre: column(n, lines.centre),
    lower: column(n, lines.lower),
    upper: column(n, lines.upper),
    sigma: lines.sigma === null ? null : column(n, lines.sigma),
  };
  return withSignals({ ...chart, ...columns }, lines);
}

/** What to say about limits that rest on few points: provisional from 25, approved from 100. */
export function baselineWarnings(count: number): string[] {
  if (count < 25) return [`Limits from ${count} points are only a trial: 25 make them provisional, 100 a baseline.`];
  if (count < 100) return [`Limits from ${count} points are provisional: a baseline needs 100.`];
  return [];
}

function sigmaOf(
  used: Float64Array,
  ranges: Float64Array,
  method: IndividualsSigma,
  factors: ChartFactors,
  constants: ConstantsChoice,
): number {
  switch (method) {
    case "mean-moving-range":
      return ranges.length > 0 ? average(ranges) / factors.d2 : 0;
    case "median-moving-range":
      return ranges.length > 0 ? median(ranges) / factors.d4 : 0;
    case "standard-deviation":
      return used.length > 1 ? standardDeviation(used) / c4Factor(used.length, constants) : 0;
    default:
      throw new CoreError("invalid-argument", `individualsChart: sigmaMethod must be known; got ${String(method)}`);
  }
}
