import { CoreError } from "../../errors";
import type { ChartEstimate, ChartEstimates, ChartResult } from "./chart-result";
import { assertAllFinite, assertPositive, checkedExclusions, column } from "./chart-signals";
import { individualsChart, withSignals } from "./individuals-chart";
import { LIMIT_TEST_ONLY } from "../rules/run-rules";

/** Mean and sigma to watch, given or estimated; shared by the charts with a memory. */
export type MemoryChartOptions = Readonly<{
  /** Value to watch for shifts from; the mean of the values by default. */
  target?: number;
  /** Standard deviation of one reading; from the mean moving range by default. */
  sigma?: number;
  /** Readings behind each value (1 by default): sigma of a value is sigma / sqrt(n). */
  sizes?: readonly number[];
  excluded?: readonly number[];
}>;

export type EwmaOptions = MemoryChartOptions &
  Readonly<{
    /** Weight of the newest value, 0 < lambda <= 1; 0.2 by default. */
    lambda?: number;
    /** Half width of the limits in standard deviations of the average; 2.86 by default (run length 370 at 0.2). */
    width?: number;
    /** exact: limits that widen from the first point. asymptotic: those of a long series. */
    limits?: "exact" | "asymptotic";
    /** Sides on which there is a limit. */
    sides?: "both" | "upper" | "lower";
    /** Value of the average before the first point; the target by default. */
    start?: number;
  }>;

/**
 * Exponentially weighted moving average chart.
 * Formula: z_t = lambda x_t + (1 - lambda) z_(t-1), z_0 = start;
 * var z_t = (1 - lambda)^2 var z_(t-1) + lambda^2 sigma^2 / n_t, var z_0 = 0; limits target -/+ width sd(z_t).
 *
 * @param values - number[n], unit u, all finite, in the order of time
 * @param options - see EwmaOptions
 * @returns main chart "ewma" without companions; an excluded value leaves the average as it was (its point is null).
 *   ok: false with a reason if sigma is not given and cannot be estimated
 * @throws CoreError not-finite, out-of-range, length-mismatch
 * Accuracy: the digits of tests/reference/control-charts.json and ewma-cusum-run-length.json
 * Source: Roberts 1959, Technometrics 1(3) 239-250; Lucas and Saccucci 1990, Technometrics 32(1) 1-12
 * @example ewmaChart([52], { target: 50, sigma: 2, lambda: 0.3 }) // main.values[0] = 50.6
 */
export function ewmaChart(values: readonly number[], options: EwmaOptions = {}): ChartEstimate {
  const { lambda = 0.2, width = 2.86, limits = "exact", sides = "both" } = options;
  const name = "ewmaChart";
  if (!(lambda > 0 && lambda <= 1)) {
    throw new CoreError("out-of-range", `${name}: lambda must be above 0 and at most 1; got ${lambda}`, { lambda });
  }
  assertPositive(name, "width", width);
  const basis = memoryBasis(name, values, options);
  if (!basis.ok) return basis;
  const { target, sigma, sizes, excluded, phase } = basis.value;
  const start = options.start ?? target;
  assertAllFinite(name, [start], "start");
  const leftOut = new Set(excluded);
  const keep = 1 - lambda;
  const averages = column<number | null>(values.length, null);
  const deviations = column(values.length, 0);
  let average = start - target;
  let variance = limits === "exact" ? 0 : lambda / (2 - lambda);
  for (let index = 0; index < values.length; index++) {
    const n = sizes?.[index] ?? 1;
    if (!leftOut.has(index)) {
      average = lambda * (values[index]! - target) + keep * average;
      averages[index] = target + average;
      if (limits === "exact") variance = keep * keep * variance + (lambda * lambda) / n;
    }
    deviations[index] = sigma * Math.sqrt(limits === "exact" ? variance : variance / n);
  }
  const main = withSignals({
    kind: "ewma",
    phase,
    values: averages,
    sizes,
    centre: column(values.length, target),
    lower: sides === "upper" ? column(values.length, null) : deviations.map((sd) => target - width * sd),
    upper: sides === "lower" ? column(values.length, null) : deviations.map((sd) => target + width * sd),
    sigma: null,
    excluded,
    rules: LIMIT_TEST_ONLY,
    estimates: { ...basis.value.estimates, details: { ...basis.value.estimates.details, lambda, width, start } },
    warnings: basis.warnings,
  });
  return { ok: true, value: { main, companions: [], estimates: main.estimates }, warnings: basis.warnings };
}

/** Target, sigma and checked sizes of a chart with a memory, or the reason why sigma is missing. */
export function memoryBasis(name: string, values: readonly number[], options: MemoryChartOptions) {
  assertAllFinite(name, values);
  assertPositive(name, "sigma", options.sigma);
  if (options.target !== undefined) assertAllFinite(name, [options.target], "target");
  const { sizes = null } = options;
  if (sizes !== null && sizes.length !== values.length) {
    throw new CoreError("length-mismatch", `${name}: sizes must have ${values.length} entries; got ${sizes.length}`);
  }
  for (const size of sizes ?? []) assertPositive(name, "sizes", size);
  if (options.sigma === undefined && sizes?.some((size) => size !== sizes[0])) {
    throw new CoreError("invalid-argument", `${name}: sigma must be given where sizes differ`);
  }
  const excluded = checkedExclusions(name, options.excluded, values.length);
  const root = Math.sqrt(sizes?.[0] ?? 1);
  const estimate = individualsChart(values, {
    ...(options.target === undefined ? {} : { mean: options.target }),
    ...(options.sigma === undefined ? {} : { sigma: options.sigma / root }),
    excluded,
    rules: [],
  });
  if (!estimate.ok) return estimate;
  const target = options.target ?? estimate.value.estimates.centre;
  const sigma = options.sigma ?? estimate.value.estimates.sigma * root;
  const estimates: ChartEstimates = { ...estimate.value.estimates, centre: target, sigma };
  const phase: ChartResult["phase"] = estimate.value.main.phase;
  return {
    ok: true,
    value: { target, sigma, sizes, excluded, estimates, phase },
    warnings: estimate.warnings,
  } as const;
}
