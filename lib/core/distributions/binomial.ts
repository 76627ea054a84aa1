import { CoreError } from "../errors";
import { regularisedBeta } from "../numerics/incomplete-beta";
import { binomialKernel } from "../numerics/log-gamma";
import { betaQuantile, betaUpperQuantile } from "./beta";

/** Number of trials and probability of each. */
export interface BinomialParameters {
  readonly n: number;
  readonly p: number;
}

/**
 * Probability P(X = k) of the binomial distribution.
 * @param k - count, integer
 * @param parameters - n integer >= 0, p in [0, 1]
 * @returns probability; 0 outside 0..n
 * @throws CoreError out-of-range for another argument
 * Method: saddle-point form; logarithms of gamma functions lose digits from n of 1e6 on.
 * Accuracy: 12 digits on tests/reference/extreme-arguments.json
 * Source: Loader 2000, Fast and Accurate Computation of Binomial Probabilities
 */
export function binomialPmf(k: number, parameters: BinomialParameters): number {
  const { n, p } = requireParameters("binomialPmf", k, parameters);
  return k < 0 || k > n ? 0 : binomialKernel(k, n, p, 1 - p);
}

/**
 * Lower tail P(X <= k) of the binomial distribution.
 * @param k - count, integer
 * @param parameters - n integer >= 0, p in [0, 1]
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 12 digits on tests/reference/distributions.json
 */
export function binomialCdf(k: number, parameters: BinomialParameters): number {
  const { n, p } = requireParameters("binomialCdf", k, parameters);
  if (k < 0) return 0;
  return k >= n ? 1 : regularisedBeta(p, 1 - p, k + 1, n - k).upper;
}

/**
 * Upper tail P(X > k) of the binomial distribution, evaluated directly.
 * @param k - count, integer
 * @param parameters - n integer >= 0, p in [0, 1]
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function binomialSf(k: number, parameters: BinomialParameters): number {
  const { n, p } = requireParameters("binomialSf", k, parameters);
  if (k < 0) return 1;
  return k >= n ? 0 : regularisedBeta(p, 1 - p, k + 1, n - k).lower;
}

/**
 * Exact confidence interval of a fraction from a count (Clopper and Pearson).
 * @param k - number found, integer 0..n
 * @param n - number looked at, integer >= 1
 * @param confidence - of the two-sided interval, in (0, 1)
 * @returns lower and upper bound of the fraction
 * @throws CoreError out-of-range for another argument
 * Source: Clopper & Pearson 1934, Biometrika 26, 404-413
 */
export function fractionInterval(
  k: number,
  n: number,
  confidence: number,
): { readonly lower: number; readonly upper: number } {
  const alpha = (1 - requireConfidence("fractionInterval", confidence)) / 2;
  requireCount("fractionInterval", k, n);
  return {
    lower: k === 0 ? 0 : betaQuantile(alpha, k, n - k + 1),
    upper: fractionUpperBound(k, n, 1 - alpha),
  };
}

/**
 * Exact one-sided upper confidence bound of a fraction from a count (Clopper and Pearson).
 * @param k - number found, integer 0..n
 * @param n - number looked at, integer >= 1
 * @param confidence - one-sided, in (0, 1)
 * @returns bound in (0, 1]; for k = 0 it is 1 - (1 - confidence)^(1/n)
 * @throws CoreError out-of-range for another argument
 * Source: Clopper & Pearson 1934, Biometrika 26, 404-413
 * @example fractionUpperBound(0, 300, 0.95) // 0.009936...: none in 300 shows less than 1 %
 */
export function fractionUpperBound(k: number, n: number, confidence: number): number {
  requireConfidence("fractionUpperBound", confidence);
  requireCount("fractionUpperBound", k, n);
  if (k === n) return 1;
  if (k === 0) return -Math.expm1(Math.log1p(-confidence) / n);
  return betaUpperQuantile(1 - confidence, k + 1, n - k);
}

function requireCount(name: string, k: number, n: number): void {
  if (!Number.isInteger(n) || n < 1)
    throw new CoreError("out-of-range", `${name}: n must be an integer >= 1; got ${n}`, { n });
  if (!Number.isInteger(k) || k < 0 || k > n) {
    throw new CoreError("out-of-range", `${name}: k must be an integer 0..${n}; got ${k}`, { k, n });
  }
}

function requireConfidence(name: string, confidence: number): number {
  if (!(confidence > 0 && confidence < 1)) {
    throw new CoreError("out-of-range", `${name}: confidence must be in (0, 1); got ${confidence}`, { confidence });
  }
  return confidence;
}

function requireParameters(name: string, k: number, parameters: BinomialParameters): BinomialParameters {
  const { n, p } = parameters;
  if (!Number.isInteger(n) || n < 0)
    throw new CoreError("out-of-range", `${name}: n must be an integer >= 0; got ${n}`, { n });
  if (!(p >= 0 && p <= 1)) throw new CoreError("out-of-range", `${name}: p must be in [0, 1]; got ${p}`, { p });
  if (!Number.isInteger(k)) throw new CoreError("out-of-range", `${name}: k must be an integer; got ${k}`, { k });
  return parameters;
}
