import { CoreError } from "../../errors";
import { chartFactors, type ConstantsChoice } from "./chart-factors";
import type { ChartEstimate, ChartResult } from "./chart-result";
import { assertAllFinite, assertPositive, checkedExclusions, column } from "./chart-signals";
import { chartWithConstantLines, individualsChart, type IndividualsOptions } from "./individuals-chart";
import { average, isRoundingNoise } from "./point-statistics";
import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "../rules/run-rules";

/**
 * Individuals chart of deviations from nominal: models with different nominals but one spread on one chart.
 *
 * @param values - number[n], unit u, all finite
 * @param nominals - number[n], the nominal of each value's model, unit u
 * @param options - as individualsChart, for the deviations
 * @returns as individualsChart, main chart of kind "deviation-from-nominal"
 * @throws CoreError length-mismatch, and as individualsChart
 * Source: Montgomery, Introduction to Statistical Quality Control, 10.1 (DNOM charts)
 */
export function deviationChart(
  values: readonly number[],
  nominals: readonly number[],
  options: IndividualsOptions = {},
): ChartEstimate {
  if (nominals.length !== values.length) {
    throw new CoreError(
      "length-mismatch",
      `deviationChart: nominals must have ${values.length} entries; got ${nominals.length}`,
    );
  }
  assertAllFinite("deviationChart", values);
  assertAllFinite("deviationChart", nominals, "nominals");
  const chart = individualsChart(
    values.map((value, index) => value - nominals[index]!),
    options,
  );
  if (!chart.ok) return chart;
  return { ...chart, value: { ...chart.value, main: { ...chart.value.main, kind: "deviation-from-nominal" } } };
}

export type ShortRunOptions = Readonly<{
  sigmas?: number;
  constants?: ConstantsChoice;
  rules?: readonly RunRule[];
  excluded?: readonly number[];
}>;

/**
 * Standardised individuals (Z) chart with its moving range: models with different means and spreads on one chart.
 * Formula: z_i = (x_i - mean_model) / sigma_model, sigma_model = MRbar_model / d2(2) within each model in the order of
 * time; limits of z -/+ 3, of its moving range D4 d2 about d2.
 *
 * @param values - number[n], all finite, in the order of time
 * @param models - string[n], the model of each value
 * @param options - `known` gives mean and sigma of a model from earlier data; others as the rest
 * @returns main chart "standardised", companion "moving-range" of consecutive z of whatever model. ok: false with a
 *   reason if a model has fewer than two values or no variation and is not known
 * @throws CoreError length-mismatch, not-finite, out-of-range
 * Accuracy: 9 digits on tests/reference/between-within-shortrun.json
 * Source: Montgomery, Introduction to Statistical Quality Control, 10.1
 */
export function standardisedChart(
  values: readonly number[],
  models: readonly string[],
  options: ShortRunOptions & Readonly<{ known?: Readonly<Record<string, { mean: number; sigma: number }>> }> = {},
): ChartEstimate {
  const { sigmas = 3, rules = ZONE_TESTS, known = {} } = options;
  const name = "standardisedChart";
  assertPositive(name, "sigmas", sigmas);
  assertAllFinite(name, values);
  if (models.length !== values.length) {
    throw new CoreError("length-mismatch", `${name}: models must have ${values.length} entries; got ${models.length}`);
  }
  const excluded = checkedExclusions(name, options.excluded, values.length);
  const leftOut = new Set(excluded);
  const { d2, D3, D4 } = chartFactors(2, options.constants, sigmas);
  const scales = new Map<string, { mean: number; sigma: number }>();
  for (const [model, own] of valuesByModel(values, models, leftOut)) {
    const ranges = own.slice(1).map((value, index) => Math.abs(value - own[index]!));
    const given = Object.hasOwn(known, model) ? known[model] : undefined;
    assertPositive(name, "sigma", given?.sigma);
    const sigma = given?.sigma ?? (ranges.length > 0 ? average(ranges) / d2 : 0);
    if (isRoundingNoise(sigma, given === undefined ? own : [])) {
      const what = own.length < 2 ? "fewer than two values" : "no variation";
      return { ok: false, reason: `Model ${model} has ${what}: give its mean and sigma from earlier frames.` };
    }
    scales.set(model, { mean: given?.mean ?? average(own), sigma });
  }
  if (scales.size === 0) return { ok: false, reason: "There is no value to chart." };
  const z = values.map((value, index) => {
    const { mean, sigma } = scales.get(models[index]!)!;
    return (value - mean) / sigma;
  });
  const movingRange = column<number | null>(z.length, null);
  const kept = z.map((_, index) => index).filter((index) => !leftOut.has(index));
  kept.slice(1).forEach((index, k) => {
    movingRange[index] = Math.abs(z[index]! - z[kept[k]!]!);
  });
  const shared = standardisedBasis(kept.length, excluded, scales);
  const main = chartWithConstantLines(
    { ...shared, kind: "standardised", values: z, rules },
    { centre: 0, lower: -sigmas, upper: sigmas, sigma: 1 },
  );
  const companion = chartWithConstantLines(
    { ...shared, kind: "moving-range", values: movingRange, rules: LIMIT_TEST_ONLY },
    { centre: d2, lower: D3 * d2, upper: D4 * d2, sigma: null },
  );
  return { ok: true, value: { main, companions: [companion], estimates: main.estimates }, warnings: [] };
}

/** The values of each model in the order of time, models in the order of their first one; what is left out is in none. */
function valuesByModel(
  values: readonly number[],
  models: readonly string[],
  leftOut: ReadonlySet<number>,
): Map<string, number[]> {
  const byModel = new Map<string, number[]>();
  models.forEach((model, index) => {
    const own = byModel.get(model) ?? [];
    if (own.length === 0) byModel.set(model, own);
    if (!leftOut.has(index)) own.push(values[index]!);
  });
  return byModel;
}

function standardisedBasis(
  count: number,
  excluded: readonly number[],
  scales: ReadonlyMap<string, { mean: number; sigma: number }>,
): Pick<ChartResult, "phase" | "sizes" | "excluded" | "estimates" | "warnings"> {
  const details: Record<string, number> = {};
  for (const [model, { mean, sigma }] of scales) {
    details[`mean of ${model}`] = mean;
    details[`sigma of ${model}`] = sigma;
  }
  return {
    phase: 2,
    sizes: null,
    excluded,
    estimates: { centre: 0, sigma: 1, sigmaMethod: "standardised by model", count, details },
    warnings: [],
  };
}
