import { CoreError } from "../errors";
import { regularisedGammaLower, regularisedGammaUpper } from "../numerics/incomplete-gamma";
import { poissonKernel } from "../numerics/log-gamma";

/**
 * Probability P(X = k) of the Poisson distribution.
 * @param k - count, integer >= 0
 * @param mean - > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function poissonPmf(k: number, mean: number): number {
  requireArguments("poissonPmf", k, mean);
  return k === 0 ? Math.exp(-mean) : poissonKernel(k, mean);
}

/**
 * Lower tail P(X <= k) of the Poisson distribution.
 * @param k - count, integer >= 0
 * @param mean - > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Method: upper incomplete gamma function with shape k + 1
 */
export function poissonCdf(k: number, mean: number): number {
  requireArguments("poissonCdf", k, mean);
  return regularisedGammaUpper(k + 1, mean);
}

/**
 * Upper tail P(X > k) of the Poisson distribution, evaluated directly.
 * @param k - count, integer >= 0
 * @param mean - > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function poissonSf(k: number, mean: number): number {
  requireArguments("poissonSf", k, mean);
  return regularisedGammaLower(k + 1, mean);
}

function requireArguments(name: string, k: number, mean: number): void {
  if (!Number.isInteger(k) || k < 0)
    throw new CoreError("out-of-range", `${name}: k must be an integer >= 0; got ${k}`, { k });
  if (!(mean > 0)) throw new CoreError("out-of-range", `${name}: mean must be > 0; got ${mean}`, { mean });
}
