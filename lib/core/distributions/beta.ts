import beta from "@stdlib/stats-base-dists-beta";
import { CoreError } from "../errors";

/**
 * Lower tail P(X <= x) of the beta distribution.
 * @param x - value in [0, 1]
 * @param a - first shape, > 0
 * @param b - second shape, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 10 digits on tests/reference/distributions.json (the distribution package)
 */
export function betaCdf(x: number, a: number, b: number): number {
  requireShapes("betaCdf", a, b);
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `betaCdf: x must be a number; got ${x}`, { x });
  return beta.cdf(x, a, b);
}

/**
 * Upper tail P(X > x) of the beta distribution, evaluated directly by exchanging the shapes.
 * @param x - value in [0, 1]
 * @param a - first shape, > 0
 * @param b - second shape, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function betaSf(x: number, a: number, b: number): number {
  // A small x loses its digits in 1 - x, but there the lower tail is small and its complement exact.
  const lower = betaCdf(x, a, b);
  return lower < 0.5 ? 1 - lower : betaCdf(1 - x, b, a);
}

/**
 * Quantile of the beta distribution: x with P(X <= x) = p.
 * @param p - probability in [0, 1]
 * @param a - first shape, > 0
 * @param b - second shape, > 0
 * @returns x in [0, 1]
 * @throws CoreError out-of-range for another argument
 */
export function betaQuantile(p: number, a: number, b: number): number {
  requireShapes("betaQuantile", a, b);
  if (!(p >= 0 && p <= 1)) throw new CoreError("out-of-range", `betaQuantile: p must be in [0, 1]; got ${p}`, { p });
  return beta.quantile(p, a, b);
}

/**
 * Upper quantile of the beta distribution: x with P(X > x) = q.
 * @param q - upper tail probability in [0, 1]
 * @param a - first shape, > 0
 * @param b - second shape, > 0
 * @returns x in [0, 1]
 * @throws CoreError out-of-range for another argument
 */
export function betaUpperQuantile(q: number, a: number, b: number): number {
  return q > 0.5 ? betaQuantile(1 - q, a, b) : 1 - betaQuantile(q, b, a);
}

function requireShapes(name: string, a: number, b: number): void {
  if (!(a > 0 && b > 0)) throw new CoreError("out-of-range", `${name}: shapes must be > 0; got ${a}, ${b}`, { a, b });
}
