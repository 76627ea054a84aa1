import { CoreError } from "../errors";
import { c4Factor, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartEstimates } from "./chart-result";
import { assertAllFinite, assertPositive, checkedExclusions, column } from "./chart-signals";
import { baselineWarnings, withSignals } from "./individuals-chart";
import { average, isRoundingNoise, median } from "./point-statistics";
import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "./run-rules";
import { spreadFactors, type SpreadFactors, type SpreadStatistic } from "./spread-factors";

/**
 * How sigma within subgroups is found. mean: from the mean of ranges or standard deviations (unequal sizes: each
 * divided by its factor and weighted by its precision); median: the same from their median (robust);
 * pooled: root of the pooled variance / c4; pooled-as-mean: root of the pooled variance put in the place of the
 * mean standard deviation at every subgroup's own size, as handbooks do for unequal sizes.
 */
export type SubgroupSigma = "mean" | "median" | "pooled" | "pooled-as-mean";

export type MeanChartOptions = Readonly<{
  spread?: SpreadStatistic;
  sigmaMethod?: SubgroupSigma;
  /** Given centre; with `sigma` this makes a phase II chart. */
  mean?: number;
  /** Given standard deviation of one value. */
  sigma?: number;
  sigmas?: number;
  constants?: ConstantsChoice;
  rules?: readonly RunRule[];
  /** Indices of subgroups left out of estimates and tests. */
  excluded?: readonly number[];
}>;

type SubgroupColumns = Readonly<{ means: number[]; sizes: number[]; spreads: (number | null)[]; variances: number[] }>;

/**
 * Chart of subgroup means with the chart of their ranges or standard deviations; sizes may differ.
 * Formula: sigma = Rbar / d2 or sbar / c4; means: centre -/+ A2 Rbar or A3 sbar; spread: D3, D4 Rbar or B3, B4 sbar;
 * centre = sum(n_i xbar_i) / sum(n_i).
 *
 * @param subgroups - arrays of readings in the order of time, unit u, all finite; sizes >= 1, ranges at most 100
 * @param options - see MeanChartOptions; spread is standard-deviation by default
 * @returns main chart "mean", one companion "range" or "standard-deviation". ok: false with a reason if sigma cannot
 *   be estimated (no subgroup of two, no variation within subgroups)
 * @throws CoreError too-few-values for an empty subgroup, not-finite, out-of-range
 * Method: two-pass variance a subgroup; factors by size are computed once.
 * Accuracy: the digits of tests/reference/control-charts.json
 * Edge cases: a subgroup of one has a mean but no spread, and a warning; no subgroups -> no answer
 * Source: Montgomery, Introduction to Statistical Quality Control, 6.2 and 6.3; unequal sizes: Burr 1969, Journal of
 *   Quality Technology 1(3) 163-167
 * @example meanChart([[1, 2], [2, 4]], { spread: "range" }) // ok, main.centre[0] = 2.25
 */
export function meanChart(subgroups: readonly (readonly number[])[], options: MeanChartOptions = {}): ChartEstimate {
  const { spread = "standard-deviation", sigmaMethod = "mean", sigmas = 3, rules = ZONE_TESTS } = options;
  const name = "meanChart";
  const constants = options.constants ?? "exact";
  assertPositive(name, "sigma", options.sigma);
  assertPositive(name, "sigmas", sigmas);
  if (options.mean !== undefined) assertAllFinite(name, [options.mean], "mean");
  if (sigmaMethod.startsWith("pooled") && spread === "range") {
    throw new CoreError(
      "invalid-argument",
      `${name}: sigmaMethod must be mean or median for ranges; got ${sigmaMethod}`,
    );
  }
  const columns = subgroupColumns(name, subgroups, spread);
  const excluded = checkedExclusions(name, options.excluded, subgroups.length);
  const leftOut = new Set(excluded);
  const kept = subgroups.map((_, index) => index).filter((index) => !leftOut.has(index));
  if (kept.length === 0) return { ok: false, reason: "There is no subgroup to chart." };
  const factorsBySize = new Map<number, SpreadFactors>();
  const factorsOf = (n: number) => {
    let factors = factorsBySize.get(n);
    if (factors === undefined) factorsBySize.set(n, (factors = spreadFactors(spread, n, constants, sigmas)));
    return factors;
  };
  const severalKept = kept.filter((index) => columns.sizes[index]! > 1);
  if (options.sigma === undefined && severalKept.length === 0) {
    return { ok: false, reason: "No subgroup has two readings: use an individuals chart." };
  }
  const sigma = options.sigma ?? sigmaWithin(columns, severalKept, sigmaMethod, factorsOf, constants);
  if (isRoundingNoise(sigma, options.sigma === undefined ? columns.means : [])) {
    return {
      ok: false,
      reason:
        "There is no variation within the subgroups to set limits from: check the gauge's resolution or give sigma.",
    };
  }
  const pooledAsMean = options.sigma === undefined && sigmaMethod === "pooled-as-mean";
  // The mean of the spread statistic at a size; a handbook's pooled value stands for it at every size.
  const spreadCentre = (n: number) => (pooledAsMean ? sigma : factorsOf(n).centre * sigma);
  const centre = options.mean ?? weightedCentre(columns, kept);
  const { sizes } = columns;
  const perSize = new Map<number, { half: number; spread: number; lower: number; upper: number }>();
  for (const n of new Set(sizes)) {
    if (n === 1) perSize.set(n, { half: sigmas * sigma, spread: sigma, lower: 0, upper: sigma });
    else {
      const factors = factorsOf(n);
      const middle = spreadCentre(n);
      perSize.set(n, {
        half: factors.mean * middle,
        spread: middle,
        lower: factors.lower * middle,
        upper: factors.upper * middle,
      });
    }
  }
  const linesAt = sizes.map((n) => perSize.get(n)!);
  const given = options.mean !== undefined && options.sigma !== undefined;
  const warnings = given ? [] : baselineWarnings(kept.length);
  const single = sizes.filter((n) => n === 1).length;
  if (single > 0) warnings.push(`${single} of ${sizes.length} subgroups have one reading and no spread.`);
  const spreads = severalKept.map((index) => columns.spreads[index]!);
  const estimates: ChartEstimates = {
    centre,
    sigma,
    sigmaMethod: options.sigma === undefined ? `${sigmaMethod} ${spread}` : "given",
    count: kept.length,
    details:
      spreads.length === 0 ? {} : { [spread === "range" ? "meanRange" : "meanStandardDeviation"]: average(spreads) },
  };
  const shared = { phase: given ? 2 : 1, sizes, excluded, estimates, warnings } as const;
  const main = withSignals({
    ...shared,
    kind: "mean",
    values: columns.means,
    centre: column(sizes.length, centre),
    lower: linesAt.map(({ half }) => centre - half),
    upper: linesAt.map(({ half }) => centre + half),
    sigma: linesAt.map(({ half }) => half / sigmas),
    rules,
  });
  const companion = withSignals({
    ...shared,
    kind: spread,
    values: columns.spreads,
    centre: linesAt.map((lines) => lines.spread),
    lower: linesAt.map(({ lower }) => lower),
    upper: linesAt.map(({ upper }) => upper),
    sigma: null,
    rules: LIMIT_TEST_ONLY,
  });
  return { ok: true, value: { main, companions: [companion], estimates }, warnings };
}

/** Mean, size, spread and variance of each subgroup, in one walk over the readings. */
function subgroupColumns(
  name: string,
  subgroups: readonly (readonly number[])[],
  spread: SpreadStatistic,
): SubgroupColumns {
  const count = subgroups.length;
  const columns = {
    means: column(count, 0),
    sizes: column(count, 0),
    spreads: column<number | null>(count, null),
    variances: column(count, 0),
  };
  for (let index = 0; index < count; index++) {
    const readings = subgroups[index]!;
    const n = readings.length;
    if (n === 0) {
      throw new CoreError(
        "too-few-values",
        `${name}: a subgroup must have at least 1 reading; got 0 (at index ${index})`,
      );
    }
    const origin = readings[0]!;
    let sum = 0;
    let smallest = origin;
    let largest = origin;
    for (let k = 0; k < n; k++) {
      const reading = readings[k]!;
      sum += reading - origin;
      if (reading < smallest) smallest = reading;
      if (reading > largest) largest = reading;
    }
    const mean = origin + sum / n;
    if (!Number.isFinite(mean)) assertAllFinite(`${name}: subgroup ${index}`, readings);
    let squares = 0;
    for (let k = 0; k < n; k++) squares += (readings[k]! - mean) ** 2;
    columns.means[index] = mean;
    columns.sizes[index] = n;
    if (n > 1) {
      columns.variances[index] = squares / (n - 1);
      columns.spreads[index] = spread === "range" ? largest - smallest : Math.sqrt(squares / (n - 1));
    }
  }
  return columns;
}

function weightedCentre({ means, sizes }: SubgroupColumns, kept: readonly number[]): number {
  const origin = means[kept[0]!]!;
  let sum = 0;
  let total = 0;
  for (const index of kept) {
    sum += sizes[index]! * (means[index]! - origin);
    total += sizes[index]!;
  }
  return origin + sum / total;
}

function sigmaWithin(
  { sizes, spreads, variances }: SubgroupColumns,
  several: readonly number[],
  method: SubgroupSigma,
  factorsOf: (n: number) => SpreadFactors,
  constants: ConstantsChoice,
): number {
  if (method === "pooled" || method === "pooled-as-mean") {
    let squares = 0;
    let freedom = 0;
    for (const index of several) {
      squares += (sizes[index]! - 1) * variances[index]!;
      freedom += sizes[index]! - 1;
    }
    const pooled = Math.sqrt(squares / freedom);
    return method === "pooled" ? pooled / c4Factor(freedom + 1, constants) : pooled;
  }
  if (method === "median") {
    return median(several.map((index) => spreads[index]! / factorsOf(sizes[index]!).centre));
  }
  const equal = several.every((index) => sizes[index] === sizes[several[0]!]);
  if (equal) {
    let sum = 0;
    for (const index of several) sum += spreads[index]!;
    return sum / several.length / factorsOf(sizes[several[0]!]!).centre;
  }
  let weighted = 0;
  let weights = 0;
  for (const index of several) {
    const { centre, deviation } = factorsOf(sizes[index]!);
    const weight = (centre / deviation) ** 2;
    weighted += (weight * spreads[index]!) / centre;
    weights += weight;
  }
  return weighted / weights;
}
