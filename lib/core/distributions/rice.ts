import { CoreError } from "../errors";
import { scaledBesselI0 } from "../numerics/bessel-i";
import { integratePanels } from "../numerics/gauss-legendre";
import { positiveQuantile } from "./positive-quantile";

/** Length of the mean vector and standard deviation of each component, same unit. */
export interface RiceParameters {
  readonly offset: number;
  readonly sigma: number;
}

/** Twice the natural logarithm of the drop, from the largest value in reach, beyond which the density is left out. */
const TWICE_DROP = 90;

/**
 * Density of the Rice distribution: length of an isotropic normal vector in the plane with mean length `offset`.
 * Formula: x/s^2 exp(-(x^2 + v^2) / (2 s^2)) I0(x v / s^2)
 * @param x - value, unit of sigma
 * @param parameters - offset v >= 0, sigma s > 0
 * @returns density >= 0, 1/unit
 * @throws CoreError out-of-range for other parameters
 * Source: Rice 1945, Bell System Technical Journal 24, 46-156
 */
export function riceDensity(x: number, parameters: RiceParameters): number {
  const { offset, sigma } = requireParameters("riceDensity", x, parameters);
  return standardDensity(x / sigma, offset / sigma) / sigma;
}

/**
 * Lower tail P(X <= x) of the Rice distribution.
 * @param x - value, unit of sigma
 * @param parameters - offset >= 0, sigma > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 * Method: Gauss-Legendre panels over the positive density; no complement, so both tails keep their digits.
 * Accuracy: 11 digits on tests/reference/distributions.json
 */
export function riceCdf(x: number, parameters: RiceParameters): number {
  const { offset, sigma } = requireParameters("riceCdf", x, parameters);
  if (x <= 0) return 0;
  const a = offset / sigma;
  const high = Math.min(x / sigma, a + Math.sqrt(TWICE_DROP));
  const low = Math.max(0, a - Math.hypot(Math.max(0, a - high), Math.sqrt(TWICE_DROP)));
  return Math.min(1, over(low, high, a));
}

/**
 * Upper tail P(X > x) of the Rice distribution, evaluated directly (Marcum's Q of order 1).
 * @param x - value, unit of sigma
 * @param parameters - offset >= 0, sigma > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 */
export function riceSf(x: number, parameters: RiceParameters): number {
  const { offset, sigma } = requireParameters("riceSf", x, parameters);
  if (x <= 0) return 1;
  const a = offset / sigma;
  const low = Math.max(x / sigma, a - Math.sqrt(TWICE_DROP), 0);
  const high = a + Math.hypot(Math.max(0, low - a), Math.sqrt(TWICE_DROP));
  // I0(u a) grows like e^(u a) / sqrt(u a) against the factor u: one more unit covers it.
  return Math.min(1, over(low, high + 1 / (1 + low), a));
}

/**
 * Quantile of the Rice distribution: x with P(X <= x) = p.
 * @param p - probability in (0, 1)
 * @param parameters - offset >= 0, sigma > 0
 * @returns x > 0
 * @throws CoreError out-of-range for other arguments
 */
export function riceQuantile(p: number, parameters: RiceParameters): number {
  return solve("riceQuantile", { lower: p }, parameters);
}

/**
 * Upper quantile of the Rice distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param parameters - offset >= 0, sigma > 0
 * @returns x > 0
 * @throws CoreError out-of-range for other arguments
 */
export function riceUpperQuantile(q: number, parameters: RiceParameters): number {
  return solve("riceUpperQuantile", { upper: q }, parameters);
}

function solve(name: string, goal: { lower: number } | { upper: number }, parameters: RiceParameters): number {
  const { offset, sigma } = requireParameters(name, 1, parameters);
  const standard = { offset: offset / sigma, sigma: 1 };
  const tails = { cdf: (x: number) => riceCdf(x, standard), sf: (x: number) => riceSf(x, standard) };
  return sigma * positiveQuantile(tails, goal, Math.hypot(standard.offset, 1.2));
}

function standardDensity(u: number, a: number): number {
  return u <= 0 ? 0 : u * Math.exp(-0.5 * (u - a) ** 2) * scaledBesselI0(u * a);
}

function over(low: number, high: number, a: number): number {
  if (!(high > low)) return 0;
  return integratePanels((u) => standardDensity(u, a), [low, high], Math.max(6, Math.ceil(high - low)), 20);
}

function requireParameters(name: string, x: number, parameters: RiceParameters): RiceParameters {
  const { offset, sigma } = parameters;
  if (!(offset >= 0 && Number.isFinite(offset) && sigma > 0 && Number.isFinite(sigma))) {
    throw new CoreError("out-of-range", `${name}: offset must be >= 0 and sigma > 0; got ${offset}, ${sigma}`, {
      offset,
      sigma,
    });
  }
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `${name}: x must be a number; got ${x}`);
  return parameters;
}
