import { CoreError } from "../../errors";
import { modelQuantile, modelUpperQuantile, type DistributionModel } from "../../distributions/distribution-model";
import type { ChartEstimate } from "./chart-result";
import { assertAllFinite, checkedExclusions } from "./chart-signals";
import { baselineWarnings, chartWithConstantLines } from "./individuals-chart";
import { LIMIT_TEST_ONLY } from "../rules/run-rules";

/** Probability beyond each limit of a normal chart at three sigma: what quantile limits leave out as well. */
export const THREE_SIGMA_TAIL = 0.0013498980316300933;

export type QuantileChartOptions = Readonly<{
  /** The distribution fitted to the baseline, or its quantiles. */
  limits: DistributionModel | Readonly<{ lower: number; median: number; upper: number }>;
  /** Probability beyond each limit of a fitted distribution, 0 < tail < 0.5. */
  tail?: number;
  /** Sides on which there is a limit; form deviations are watched above only (upper). */
  sides?: "both" | "upper";
  excluded?: readonly number[];
  /** Number of frames that the distribution was fitted to, for the warning about short baselines. */
  baseline?: number;
}>;

/**
 * Individuals chart with limits at quantiles of a fitted distribution: for ovality, run-out and the size of a taper, which
 * are bounded by zero and skewed. The only test is a point beyond a limit.
 *
 * @param values - number[n], unit u, all finite
 * @param options - see QuantileChartOptions
 * @returns main chart "individuals" (phase 2) about the median, without zones and companions; estimates.sigma is the
 *   distance from the median to the upper limit / 3
 * @throws CoreError not-finite, out-of-range for a tail, invalid-argument for quantiles that are not ascending
 * Source: ISO 7870-2:2013 limits by probability; ISO 22514-2:2017 quantile method
 */
export function quantileChart(values: readonly number[], options: QuantileChartOptions): ChartEstimate {
  const { limits, tail = THREE_SIGMA_TAIL, sides = "both" } = options;
  const name = "quantileChart";
  assertAllFinite(name, values);
  if (!(tail > 0 && tail < 0.5)) {
    throw new CoreError("out-of-range", `${name}: tail must be above 0 and below 0.5; got ${tail}`, { tail });
  }
  const { lower, median, upper } =
    "family" in limits
      ? {
          lower: modelQuantile(limits, tail),
          median: modelQuantile(limits, 0.5),
          upper: modelUpperQuantile(limits, tail),
        }
      : limits;
  assertAllFinite(name, [lower, median, upper], "limits");
  if (!(lower <= median && median < upper)) {
    throw new CoreError("invalid-argument", `${name}: limits must ascend; got ${lower}, ${median}, ${upper}`, {
      lower,
      median,
      upper,
    });
  }
  if (values.length === 0) return { ok: false, reason: "There is no value to chart." };
  const excluded = checkedExclusions(name, options.excluded, values.length);
  const warnings = options.baseline === undefined ? [] : baselineWarnings(options.baseline);
  const main = chartWithConstantLines(
    {
      kind: "individuals",
      phase: 2,
      values: [...values],
      sizes: null,
      excluded,
      rules: LIMIT_TEST_ONLY,
      estimates: {
        centre: median,
        sigma: (upper - median) / 3,
        sigmaMethod: "quantiles",
        count: options.baseline ?? 0,
        details: { lower, median, upper, tail },
      },
      warnings,
    },
    { centre: median, lower: sides === "upper" ? null : lower, upper, sigma: null },
  );
  return { ok: true, value: { main, companions: [], estimates: main.estimates }, warnings };
}
