import { CoreError } from "../../errors";
import { betaUpperQuantile } from "../../distributions/beta";
import { chiSquareUpperQuantile } from "../../distributions/chi-square";
import { fisherFUpperQuantile } from "../../distributions/fisher-f";

/**
 * What a T2 limit is for.
 * - known: mean and covariance are known
 * - individuals-1: the vectors that the mean and sample covariance were estimated from
 * - successive-1: the same with the covariance of successive differences
 * - means-1: subgroup means that the grand mean was estimated from, covariance within subgroups
 * - future: vectors or means that came after the baseline
 */
export type HotellingCase = "known" | "individuals-1" | "successive-1" | "means-1" | "future";

export type HotellingLimitInput = Readonly<{
  case: HotellingCase;
  /** Components p, integer >= 1. */
  dimensions: number;
  /** Upper tail probability of one point, in (0, 1). */
  alpha: number;
  /** Vectors behind the mean of the baseline, all readings counted; not for known. */
  count?: number;
  /** Degrees of freedom of the covariance; not for known. */
  degreesOfFreedom?: number;
  /** Readings behind the point, 1 by default. */
  size?: number;
}>;

/**
 * Upper limit of Hotelling's T2, or null where there are too few vectors for one.
 * Formula, N = count, nu = degreesOfFreedom, n = size, all quantiles upper:
 * known and successive-1: chi2(alpha; p);
 * individuals-1: (N - 1)^2 / N * Beta(alpha; p / 2, (nu - p) / 2);
 * means-1: (1 - n / N) p nu / (nu - p + 1) F(alpha; p, nu - p + 1);
 * future: (1 + n / N) p nu / (nu - p + 1) F(alpha; p, nu - p + 1).
 * With m subgroups of n, N = m n and nu = m (n - 1); with m individuals, N = m and nu = m - 1.
 *
 * @param input - see HotellingLimitInput
 * @returns limit > 0, no unit; null where nu leaves no degrees of freedom
 * @throws CoreError out-of-range
 * Accuracy: exact for normal vectors except with the covariance of successive differences. There the chi-square limit of
 *   phase I is off by at most 3 % of itself from 15 vectors of two components on (the beta limit with equivalent degrees of
 *   freedom, often printed, has a third of the stated false alarms), and the F limit of phase II uses equivalent degrees of
 *   freedom; false alarms measured in tests/core/control/hotelling.test.ts. 9 digits on tests/reference/hotelling.json
 * Source: Tracy, Young and Mason 1992, Journal of Quality Technology 24(2) 88-95; NIST/SEMATECH e-Handbook 6.5.4.3;
 *   successive differences: Williams, Woodall, Birch and Sullivan 2006, Journal of Quality Technology 38(3) 217-229
 * @example hotellingLimit({ case: "known", dimensions: 2, alpha: 0.0027 }) // 11.829
 */
export function hotellingLimit(input: HotellingLimitInput): number | null {
  const { dimensions: p, alpha, count = Infinity, degreesOfFreedom: nu = Infinity, size = 1 } = input;
  if (!Number.isInteger(p) || p < 1 || p > 20) {
    throw new CoreError("out-of-range", `hotellingLimit: dimensions must be an integer from 1 to 20; got ${p}`);
  }
  if (!(alpha > 0 && alpha < 1)) {
    throw new CoreError("out-of-range", `hotellingLimit: alpha must be above 0 and below 1; got ${alpha}`, { alpha });
  }
  if (input.case === "known" || input.case === "successive-1") return chiSquareUpperQuantile(alpha, p);
  if (!(count >= size && size > 0 && count < Infinity && nu > 0 && nu < Infinity)) {
    throw new CoreError(
      "out-of-range",
      `hotellingLimit: count must be at least size > 0 and degreesOfFreedom > 0; got ${count}, ${size} and ${nu}`,
      { count, size, degreesOfFreedom: nu },
    );
  }
  if (input.case === "individuals-1") {
    if (!(nu - p > 0)) return null;
    return ((count - 1) ** 2 / count) * betaUpperQuantile(alpha, p / 2, (nu - p) / 2);
  }
  const rest = nu - p + 1;
  if (!(rest > 0)) return null;
  const spread = input.case === "means-1" ? 1 - size / count : 1 + size / count;
  if (!(spread > 0)) return null;
  return ((spread * p * nu) / rest) * fisherFUpperQuantile(alpha, [p, rest]);
}
