import { toDecimals } from "../../numerics/decimal-digits";
import { chartFactors, c4Factor, type ConstantsChoice } from "./chart-factors";

/** What a chart of subgroups measures the spread within them by. */
export type SpreadStatistic = "range" | "standard-deviation";

/** Factors of one spread statistic for subgroups of n. */
export type SpreadFactors = Readonly<{
  /** Mean of the statistic / sigma: d2 or c4. */
  centre: number;
  /** Standard deviation of the statistic / sigma: d3 or c5. */
  deviation: number;
  /** Limits of the statistic / its mean: D3, D4 or B3, B4. */
  lower: number;
  upper: number;
  /** Half width of the limits of means / mean of the statistic: A2 or A3. */
  mean: number;
}>;

/**
 * Factors of the range or the standard deviation of n values.
 *
 * @param spread - which statistic
 * @param n - subgroup size, integer >= 2; at most 100 for ranges
 * @param choice - exact or as printed
 * @param sigmas - multiple of the standard deviation at which limits lie
 * @throws CoreError out-of-range if n is outside its range
 */
export function spreadFactors(
  spread: SpreadStatistic,
  n: number,
  choice: ConstantsChoice,
  sigmas: number,
): SpreadFactors {
  if (spread === "range") {
    const { d2, d3, D3, D4, A2 } = chartFactors(n, choice, sigmas);
    return { centre: d2, deviation: d3, lower: D3, upper: D4, mean: A2 };
  }
  const c4 = c4Factor(n, choice);
  const exact = c4Factor(n, "exact");
  const c5 = Math.sqrt((1 - exact) * (1 + exact));
  const round = (value: number) => (choice === "printed" ? toDecimals(value, 3) : value);
  return {
    centre: c4,
    deviation: c5,
    lower: round(Math.max(0, 1 - (sigmas * c5) / exact)),
    upper: round(1 + (sigmas * c5) / exact),
    mean: round(sigmas / (exact * Math.sqrt(n))),
  };
}
