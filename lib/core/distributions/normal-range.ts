import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";
import { integratePanels } from "../numerics/gauss-legendre";
import { normalCdf, normalDensity, normalSf } from "./normal";

/** Step and reach of the trapezoidal rule: it converges exponentially for these integrands. */
const STEP = 1 / 16;
const REACH = 9.5;
/** Beyond this range the upper tail is below 1e-300 for every n to 100. */
const LARGEST_RANGE = 55;

/**
 * Lower tail P(R <= r) of the range of n independent standard normal values.
 * Formula: n * integral of phi(x) (Phi(x + r) - Phi(x))^(n - 1) dx
 * @param r - range in units of sigma
 * @param n - number of values, integer 2..100
 * @returns probability
 * @throws CoreError out-of-range if n is not an integer 2..100 or r is NaN
 * Method: trapezoidal rule over the midpoint of smallest and largest value.
 * Source: David & Nagaraja 2003, Order Statistics, 3rd ed., eq. (2.3.3)
 */
export function normalRangeCdf(r: number, n: number): number {
  requireRange("normalRangeCdf", r, n);
  if (r <= 0) return 0;
  if (r > LARGEST_RANGE) return 1;
  return r > 6 ? 1 - rangeSf(r, n) : rangeCdf(r, n);
}

/**
 * Upper tail P(R > r) of the range of n independent standard normal values, evaluated directly.
 * @param r - range in units of sigma
 * @param n - number of values, integer 2..100
 * @returns probability, relative accuracy kept in the far tail
 * @throws CoreError out-of-range if n is not an integer 2..100 or r is NaN
 */
export function normalRangeSf(r: number, n: number): number {
  requireRange("normalRangeSf", r, n);
  if (r <= 0) return 1;
  return r > LARGEST_RANGE ? 0 : rangeSf(r, n);
}

/**
 * Quantile of the range of n independent standard normal values.
 * @param p - lower tail probability, 0 < p < 1
 * @param n - number of values, integer 2..100
 * @returns range in units of sigma
 * @throws CoreError out-of-range for another p or n
 */
export function normalRangeQuantile(p: number, n: number): number {
  requireRange("normalRangeQuantile", 0, n);
  if (!(p > 0 && p < 1))
    throw new CoreError("out-of-range", `normalRangeQuantile: p must be in (0, 1); got ${p}`, { p });
  if (p <= 0.5) return brentRoot((r) => Math.log(rangeCdf(r, n) / p), 1e-300, 20);
  return brentRoot((r) => Math.log(rangeSf(r, n) / (1 - p)), 1e-3, LARGEST_RANGE);
}

/**
 * Mean and standard deviation of the range of n independent standard normal values (d2 and d3).
 * Formula: E R = integral of P(R > r) dr, E R^2 = 2 * integral of r P(R > r) dr
 * @param n - number of values, integer 2..100
 * @returns mean and sd in units of sigma
 * @throws CoreError out-of-range if n is not an integer 2..100
 * Source: Tippett 1925, Biometrika 17, 364-387
 */
export function normalRangeMoments(n: number): { readonly mean: number; readonly sd: number } {
  requireRange("normalRangeMoments", 0, n);
  const mean =
    2 * trapezoid((x) => -Math.expm1(n * Math.log1p(-normalSf(x))) - Math.pow(normalSf(x), n), 0, REACH, true);
  const square = 2 * integratePanels((r) => r * rangeSf(r, n), [0, 16], 8, 20);
  return { mean, sd: Math.sqrt(square - mean * mean) };
}

function rangeCdf(r: number, n: number): number {
  const value =
    n *
    trapezoid(
      (u) => {
        const low = u - r / 2;
        const high = u + r / 2;
        const inside = low > 0 ? normalSf(low) - normalSf(high) : normalCdf(high) - normalCdf(low);
        return normalDensity(low) * Math.pow(inside, n - 1);
      },
      -REACH,
      REACH,
      false,
    );
  return Math.min(1, value);
}

/** n * integral of phi(x) Q(x)^(n-1) (1 - (1 - Q(x + r) / Q(x))^(n-1)) dx: no cancellation. */
function rangeSf(r: number, n: number): number {
  const value =
    n *
    trapezoid(
      (u) => {
        const low = u - r / 2;
        const above = normalSf(low);
        if (above === 0) return 0;
        const beyond = normalSf(low + r) / above;
        const gain = beyond >= 1 ? 1 : -Math.expm1((n - 1) * Math.log1p(-beyond));
        return normalDensity(low) * Math.pow(above, n - 1) * gain;
      },
      -REACH,
      REACH,
      false,
    );
  return Math.min(1, value);
}

function trapezoid(f: (x: number) => number, from: number, to: number, halfFirst: boolean): number {
  const steps = Math.round((to - from) / STEP);
  let sum = halfFirst ? 0.5 * f(from) : f(from);
  for (let i = 1; i <= steps; i++) sum += f(from + i * STEP);
  return sum * STEP;
}

function requireRange(name: string, r: number, n: number): void {
  if (!Number.isInteger(n) || n < 2 || n > 100) {
    throw new CoreError("out-of-range", `${name}: n must be an integer 2..100; got ${n}`, { n });
  }
  if (Number.isNaN(r)) throw new CoreError("out-of-range", `${name}: r must be a number; got ${r}`, { r });
}
