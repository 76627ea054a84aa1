import { CoreError } from "../../errors";
import { c4Factor, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartEstimates, ChartResult } from "./chart-result";
import {
  assertAllFinite,
  assertPositive,
  checkedExclusions,
  column,
  keptPoints,
  type ConstantLines,
} from "./chart-signals";
import { baselineWarnings, chartWithConstantLines, withSignals } from "./individuals-chart";
import { isRoundingNoise, median } from "./point-statistics";
import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "../rules/run-rules";
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

/** Subgroups as arrays of readings, or as one row of readings of which every `size` make a subgroup. */
export type Subgroups =
  readonly (readonly number[])[] | Readonly<{ readings: readonly number[] | Float64Array; size: number }>;

type SubgroupColumns = Readonly<{
  means: number[];
  sizes: number[];
  /** 0 where the subgroup has one reading. */
  spreads: number[];
  /** The size of all subgroups, or null where they differ. */
  equalSize: number | null;
}>;

/**
 * Chart of subgroup means with the chart of their ranges or standard deviations; sizes may differ.
 * Formula: sigma = Rbar / d2 or sbar / c4; means: centre -/+ A2 Rbar or A3 sbar; spread: D3, D4 Rbar or B3, B4 sbar;
 * centre = sum(n_i xbar_i) / sum(n_i).
 *
 * @param subgroups - arrays of readings in the order of time, or one row of readings and the size of all subgroups;
 *   unit u, all finite; sizes >= 1, ranges at most 100
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
export function meanChart(subgroups: Subgroups, options: MeanChartOptions = {}): ChartEstimate {
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
  const excluded = checkedExclusions(name, options.excluded, columns.sizes.length);
  const kept = keptPoints(columns.means, excluded);
  if (kept.length === 0) return { ok: false, reason: "There is no subgroup to chart." };
  const factorsBySize = new Map<number, SpreadFactors>();
  const factorsOf = (n: number) => {
    let factors = factorsBySize.get(n);
    if (factors === undefined) factorsBySize.set(n, (factors = spreadFactors(spread, n, constants, sigmas)));
    return factors;
  };
  const severalKept = (columns.equalSize ?? 1) > 1 ? kept : kept.filter((index) => columns.sizes[index]! > 1);
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
  const { sizes, equalSize } = columns;
  type SizeLines = { half: number; spread: number; lower: number; upper: number };
  const linesOf = (n: number): SizeLines => {
    if (n === 1) return { half: sigmas * sigma, spread: sigma, lower: 0, upper: sigma };
    const factors = factorsOf(n);
    const middle = spreadCentre(n);
    return {
      half: factors.mean * middle,
      spread: middle,
      lower: factors.lower * middle,
      upper: factors.upper * middle,
    };
  };
  const bySize = new Map([...new Set(equalSize === null ? sizes : [equalSize])].map((n) => [n, linesOf(n)]));
  const withLines = (chart: SizedChart, of: (lines: SizeLines) => ConstantLines) => {
    if (equalSize !== null) return chartWithConstantLines(chart, of(bySize.get(equalSize)!));
    const lines = sizes.map((n) => of(bySize.get(n)!));
    return withSignals({
      ...chart,
      centre: lines.map((at) => at.centre),
      lower: lines.map((at) => at.lower),
      upper: lines.map((at) => at.upper),
      sigma: chart.kind === "mean" ? lines.map((at) => at.sigma!) : null,
    });
  };
  const given = options.mean !== undefined && options.sigma !== undefined;
  const warnings = given ? [] : baselineWarnings(kept.length);
  const single = equalSize !== null ? 0 : sizes.filter((n) => n === 1).length;
  if (single > 0) warnings.push(`${single} of ${sizes.length} subgroups have one reading and no spread.`);
  const meanSpread = severalKept.length === 0 ? null : averageAt(columns.spreads, severalKept);
  const estimates: ChartEstimates = {
    centre,
    sigma,
    sigmaMethod: options.sigma === undefined ? `${sigmaMethod} ${spread}` : "given",
    count: kept.length,
    details: meanSpread === null ? {} : { [spread === "range" ? "meanRange" : "meanStandardDeviation"]: meanSpread },
  };
  const shared = { phase: given ? 2 : 1, sizes, excluded, estimates, warnings } as const;
  const main = withLines({ ...shared, kind: "mean", values: columns.means, rules }, ({ half }) => ({
    centre,
    lower: centre - half,
    upper: centre + half,
    sigma: half / sigmas,
  }));
  const spreadValues =
    (equalSize ?? 1) > 1 ? columns.spreads : columns.spreads.map((value, index) => (sizes[index] === 1 ? null : value));
  const companion = withLines({ ...shared, kind: spread, values: spreadValues, rules: LIMIT_TEST_ONLY }, (lines) => ({
    centre: lines.spread,
    lower: lines.lower,
    upper: lines.upper,
    sigma: null,
  }));
  return { ok: true, value: { main, companions: [companion], estimates }, warnings };
}

type SizedChart = Omit<ChartResult, "signals" | "centre" | "sigma" | "lower" | "upper">;

/** Mean, size, spread and variance of each subgroup, in one walk over the readings. */
function subgroupColumns(name: string, subgroups: Subgroups, spread: SpreadStatistic): SubgroupColumns {
  if ("size" in subgroups) {
    const { readings, size } = subgroups;
    if (!Number.isInteger(size) || size < 1 || readings.length % size !== 0) {
      throw new CoreError(
        "length-mismatch",
        `${name}: readings must be a whole number of subgroups of size >= 1; got ${readings.length} readings and size ${size}`,
      );
    }
    const columns = emptyColumns(readings.length / size, size);
    for (let index = 0; index < columns.sizes.length; index++) {
      setSubgroup(name, columns, index, spread, readings, index * size);
    }
    return columns;
  }
  const first = subgroups[0]?.length ?? 0;
  const columns = emptyColumns(subgroups.length, subgroups.every(({ length }) => length === first) ? first : null);
  for (let index = 0; index < subgroups.length; index++) {
    const readings = subgroups[index]!;
    if (readings.length === 0) {
      throw new CoreError(
        "too-few-values",
        `${name}: a subgroup must have at least 1 reading; got 0 (at index ${index})`,
      );
    }
    columns.sizes[index] = readings.length;
    setSubgroup(name, columns, index, spread, readings, 0);
  }
  return columns;
}

function emptyColumns(count: number, equalSize: number | null): SubgroupColumns {
  // 0.5 makes the arrays hold plain doubles from the start.
  const doubles = () => column(count, 0.5);
  return { means: doubles(), spreads: doubles(), sizes: column(count, equalSize ?? 0), equalSize };
}

/** Sets the columns of one subgroup, whose readings lie in a row from `from` on. */
function setSubgroup(
  name: string,
  { means, sizes, spreads }: SubgroupColumns,
  index: number,
  spread: SpreadStatistic,
  readings: ArrayLike<number>,
  from: number,
): void {
  const n = sizes[index]!;
  const origin = readings[from]!;
  let sum = 0;
  for (let k = from + 1; k < from + n; k++) sum += readings[k]! - origin;
  const mean = origin + sum / n;
  if (!Number.isFinite(mean)) {
    assertAllFinite(
      `${name}: subgroup ${index}`,
      Array.from({ length: n }, (_, k) => readings[from + k]!),
    );
  }
  let squares = 0;
  for (let k = from; k < from + n; k++) {
    const deviation = readings[k]! - mean;
    squares += deviation * deviation;
  }
  const variance = n > 1 ? squares / (n - 1) : 0;
  means[index] = mean;
  spreads[index] = n === 1 ? 0 : spread === "range" ? rangeOf(readings, from, n) : Math.sqrt(variance);
}

function rangeOf(readings: ArrayLike<number>, from: number, n: number): number {
  let smallest = readings[from]!;
  let largest = smallest;
  for (let k = from + 1; k < from + n; k++) {
    if (readings[k]! < smallest) smallest = readings[k]!;
    if (readings[k]! > largest) largest = readings[k]!;
  }
  return largest - smallest;
}

function weightedCentre({ means, sizes, equalSize }: SubgroupColumns, kept: Int32Array): number {
  if (equalSize !== null) return averageAt(means, kept);
  const origin = means[kept[0]!]!;
  let sum = 0;
  let total = 0;
  for (let position = 0; position < kept.length; position++) {
    const index = kept[position]!;
    sum += sizes[index]! * (means[index]! - origin);
    total += sizes[index]!;
  }
  return origin + sum / total;
}

/** Mean of the entries at the indices given. */
function averageAt(values: readonly number[], indices: Int32Array): number {
  const origin = values[indices[0]!]!;
  let sum = 0;
  if (indices.length === values.length)
    for (let index = 0; index < values.length; index++) sum += values[index]! - origin;
  else for (let position = 0; position < indices.length; position++) sum += values[indices[position]!]! - origin;
  return origin + sum / indices.length;
}

function sigmaWithin(
  { sizes, spreads, equalSize }: SubgroupColumns,
  several: Int32Array,
  method: SubgroupSigma,
  factorsOf: (n: number) => SpreadFactors,
  constants: ConstantsChoice,
): number {
  if (method === "pooled" || method === "pooled-as-mean") {
    let squares = 0;
    let freedom = 0;
    for (const index of several) {
      squares += (sizes[index]! - 1) * spreads[index]! ** 2;
      freedom += sizes[index]! - 1;
    }
    const pooled = Math.sqrt(squares / freedom);
    return method === "pooled" ? pooled / c4Factor(freedom + 1, constants) : pooled;
  }
  if (method === "median") {
    return median(Float64Array.from(several, (index) => spreads[index]! / factorsOf(sizes[index]!).centre));
  }
  const equal = equalSize !== null || several.every((index) => sizes[index] === sizes[several[0]!]);
  if (equal) return averageAt(spreads, several) / factorsOf(sizes[several[0]!]!).centre;
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
