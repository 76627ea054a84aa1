import { CoreError } from "../errors";
import { normalCdf, normalQuantile, normalSf } from "./normal";

/** Mean and standard deviation of ln X. */
export interface LognormalParameters {
  readonly logMean: number;
  readonly logSd: number;
}

/**
 * Lower tail P(X <= x) of the lognormal distribution.
 * @param x - value, any unit
 * @param parameters - logMean real, logSd > 0
 * @returns probability; 0 for x <= 0
 * @throws CoreError out-of-range if logSd is not > 0
 * Method: through our normal distribution: the package's quantile loses the lower tail (0 at 3e-29).
 */
export function lognormalCdf(x: number, parameters: LognormalParameters): number {
  return x <= 0 ? 0 : normalCdf(standardised("lognormalCdf", x, parameters));
}

/**
 * Upper tail P(X > x) of the lognormal distribution, evaluated directly.
 * @param x - value
 * @param parameters - logMean real, logSd > 0
 * @returns probability; 1 for x <= 0
 * @throws CoreError out-of-range if logSd is not > 0
 */
export function lognormalSf(x: number, parameters: LognormalParameters): number {
  return x <= 0 ? 1 : normalSf(standardised("lognormalSf", x, parameters));
}

/**
 * Quantile of the lognormal distribution: x with P(X <= x) = p.
 * @param p - probability in [0, 1]
 * @param parameters - logMean real, logSd > 0
 * @returns x >= 0
 * @throws CoreError out-of-range for another argument
 */
export function lognormalQuantile(p: number, { logMean, logSd }: LognormalParameters): number {
  return Math.exp(logMean + logSd * normalQuantile(p));
}

/**
 * Upper quantile of the lognormal distribution: x with P(X > x) = q.
 * @param q - upper tail probability in [0, 1]
 * @param parameters - logMean real, logSd > 0
 * @returns x >= 0
 * @throws CoreError out-of-range for another argument
 */
export function lognormalUpperQuantile(q: number, { logMean, logSd }: LognormalParameters): number {
  return Math.exp(logMean - logSd * normalQuantile(q));
}

function standardised(name: string, x: number, { logMean, logSd }: LognormalParameters): number {
  if (!(logSd > 0)) throw new CoreError("out-of-range", `${name}: logSd must be > 0; got ${logSd}`, { logSd });
  return (Math.log(x) - logMean) / logSd;
}
