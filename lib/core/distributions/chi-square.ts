import { gammaCdf, gammaQuantile, gammaSf, gammaUpperQuantile } from "./gamma";

/**
 * Lower tail P(X <= x) of the chi-square distribution.
 * @param x - value
 * @param df - degrees of freedom, real > 0
 * @returns probability
 * @throws CoreError out-of-range if df is not > 0
 */
export function chiSquareCdf(x: number, df: number): number {
  return gammaCdf(x / 2, df / 2);
}

/**
 * Upper tail P(X > x) of the chi-square distribution, evaluated directly.
 * @param x - value
 * @param df - degrees of freedom, real > 0
 * @returns probability
 * @throws CoreError out-of-range if df is not > 0
 */
export function chiSquareSf(x: number, df: number): number {
  return gammaSf(x / 2, df / 2);
}

/**
 * Quantile of the chi-square distribution: x with P(X <= x) = p.
 * @param p - probability in (0, 1)
 * @param df - degrees of freedom, real > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 * @example chiSquareQuantile(0.975, 19) // 32.852326861729694
 */
export function chiSquareQuantile(p: number, df: number): number {
  return 2 * gammaQuantile(p, df / 2);
}

/**
 * Upper quantile of the chi-square distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param df - degrees of freedom, real > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function chiSquareUpperQuantile(q: number, df: number): number {
  return 2 * gammaUpperQuantile(q, df / 2);
}
