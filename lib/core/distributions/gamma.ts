import { CoreError } from "../errors";
import { regularisedGammaLower, regularisedGammaUpper } from "../numerics/incomplete-gamma";
import { normalQuantile } from "./normal";
import { positiveQuantile } from "./positive-quantile";

/**
 * Lower tail P(X <= x) of the gamma distribution.
 * @param x - value, in units of scale
 * @param shape - > 0
 * @param scale - > 0, default 1
 * @returns probability; 0 for x <= 0
 * @throws CoreError out-of-range if shape or scale is not > 0
 * Method: our own incomplete gamma function: the distribution package agrees to 3 digits only near shape 1e5.
 */
export function gammaCdf(x: number, shape: number, scale = 1): number {
  requireScale("gammaCdf", scale);
  return regularisedGammaLower(shape, Math.max(0, x) / scale);
}

/**
 * Upper tail P(X > x) of the gamma distribution, evaluated directly.
 * @param x - value
 * @param shape - > 0
 * @param scale - > 0, default 1
 * @returns probability; 1 for x <= 0
 * @throws CoreError out-of-range if shape or scale is not > 0
 */
export function gammaSf(x: number, shape: number, scale = 1): number {
  requireScale("gammaSf", scale);
  return regularisedGammaUpper(shape, Math.max(0, x) / scale);
}

/**
 * Quantile of the gamma distribution: x with P(X <= x) = p.
 * @param p - probability in (0, 1)
 * @param shape - > 0
 * @param scale - > 0, default 1
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function gammaQuantile(p: number, shape: number, scale = 1): number {
  return scale * solve("gammaQuantile", { lower: p }, shape, scale);
}

/**
 * Upper quantile of the gamma distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param shape - > 0
 * @param scale - > 0, default 1
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function gammaUpperQuantile(q: number, shape: number, scale = 1): number {
  return scale * solve("gammaUpperQuantile", { upper: q }, shape, scale);
}

function solve(name: string, goal: { lower: number } | { upper: number }, shape: number, scale: number): number {
  requireScale(name, scale);
  if (!(shape > 0)) throw new CoreError("out-of-range", `${name}: shape must be > 0; got ${shape}`, { shape });
  const p = "lower" in goal ? goal.lower : goal.upper;
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `${name}: probability must be in (0, 1); got ${p}`, { p });
  const z = "lower" in goal ? normalQuantile(p) : 0 - normalQuantile(p);
  // Wilson & Hilferty 1931 as a starting point only.
  const cube = 1 - 1 / (9 * shape) + z / (3 * Math.sqrt(shape));
  const guess = cube > 0.1 ? shape * cube ** 3 : Math.min(shape, 0.1) * 0.5;
  return positiveQuantile(
    { cdf: (x) => regularisedGammaLower(shape, x), sf: (x) => regularisedGammaUpper(shape, x) },
    goal,
    guess,
  );
}

function requireScale(name: string, scale: number): void {
  if (!(scale > 0)) throw new CoreError("out-of-range", `${name}: scale must be > 0; got ${scale}`, { scale });
}
