import studentT from "@stdlib/stats-base-dists-t";
import { CoreError } from "../errors";

/**
 * Lower tail P(T <= x) of Student's t distribution.
 * @param x - value, may be infinite
 * @param df - degrees of freedom, real > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 10 digits on tests/reference/distributions.json (the distribution package)
 */
export function studentTCdf(x: number, df: number): number {
  requireArguments("studentTCdf", x, df);
  return studentT.cdf(x, df);
}

/**
 * Upper tail P(T > x) of Student's t distribution, evaluated directly by symmetry.
 * @param x - value, may be infinite
 * @param df - degrees of freedom, real > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function studentTSf(x: number, df: number): number {
  requireArguments("studentTSf", x, df);
  return studentT.cdf(-x, df);
}

/**
 * Quantile of Student's t distribution: x with P(T <= x) = p.
 * @param p - probability in (0, 1); for an upper tail q use -studentTQuantile(q, df)
 * @param df - degrees of freedom, real > 0
 * @returns x
 * @throws CoreError out-of-range for another argument
 */
export function studentTQuantile(p: number, df: number): number {
  requireArguments("studentTQuantile", p, df);
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `studentTQuantile: p must be in (0, 1); got ${p}`, { p });
  return studentT.quantile(p, df);
}

function requireArguments(name: string, x: number, df: number): void {
  if (!(df > 0)) throw new CoreError("out-of-range", `${name}: df must be > 0; got ${df}`, { df });
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `${name}: first argument must be a number; got ${x}`);
}
