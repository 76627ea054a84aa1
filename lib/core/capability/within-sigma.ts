import { CoreError } from "../errors";
import { chartConstants, c4Constant } from "../control/charts/chart-constants";
import { sampleSd } from "../numerics/descriptive-statistics";

/** Short-term standard deviation with the degrees of freedom it is worth. */
export interface WithinSigma {
  readonly sigma: number;
  readonly degreesOfFreedom: number;
  readonly method: "moving-range" | "pooled-sd" | "given";
}

/** Covariance of neighbouring moving ranges / sigma^2: (4/pi)(sqrt(3)/2 + pi/12 - 1). */
const NEIGHBOUR_COVARIANCE = (4 / Math.PI) * (Math.sqrt(3) / 2 + Math.PI / 12 - 1);

/**
 * Within sigma of individual values from the mean moving range of two.
 * Formula: sigma = mean(|x_i - x_{i-1}|) / d2(2)
 * @param x - number[n] in order of time, n >= 2, all finite
 * @returns sigma >= 0 and effective degrees of freedom 1 / (2 cv^2), about 0.61 n
 * @throws CoreError too-few-values, not-finite
 * Source: Cryer & Ryan 1990, J. Quality Technology 22(3), 187-192 (variance of the mean moving range)
 */
export function movingRangeSigma(x: readonly number[]): WithinSigma {
  if (x.length < 2)
    throw new CoreError("too-few-values", `movingRangeSigma: x must have at least 2 values; got ${x.length}`);
  let sum = 0;
  for (let i = 1; i < x.length; i++) sum += Math.abs(x[i]! - x[i - 1]!);
  if (!Number.isFinite(sum)) throw new CoreError("not-finite", "movingRangeSigma: x must be finite");
  const count = x.length - 1;
  const { d2, d3 } = chartConstants(2);
  const variance = (count * d3 * d3 + 2 * (count - 1) * NEIGHBOUR_COVARIANCE) / (count * count * d2 * d2);
  return { sigma: sum / count / d2, degreesOfFreedom: 1 / (2 * variance), method: "moving-range" };
}

/**
 * Within sigma of subgroups: pooled standard deviation, unbiased by c4.
 * Formula: s_p = sqrt(sum (n_i - 1) s_i^2 / nu), sigma = s_p / c4(nu + 1), nu = sum (n_i - 1)
 * @param subgroups - number[][], each with at least 2 finite values
 * @param options - unbias (default false: s_p itself, whose square is unbiased)
 * @returns sigma and nu
 * @throws CoreError too-few-values, not-finite
 */
export function pooledSigma(
  subgroups: readonly (readonly number[])[],
  { unbias = false }: { readonly unbias?: boolean } = {},
): WithinSigma {
  if (subgroups.length === 0) throw new CoreError("too-few-values", "pooledSigma: subgroups must not be empty");
  let squares = 0;
  let degreesOfFreedom = 0;
  for (const subgroup of subgroups) {
    const sd = sampleSd(subgroup);
    squares += (subgroup.length - 1) * sd * sd;
    degreesOfFreedom += subgroup.length - 1;
  }
  const pooled = Math.sqrt(squares / degreesOfFreedom);
  return {
    sigma: unbias ? pooled / c4Constant(degreesOfFreedom + 1) : pooled,
    degreesOfFreedom,
    method: "pooled-sd",
  };
}
