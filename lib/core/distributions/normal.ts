import normalCdfOf from "@stdlib/stats-base-dists-normal-cdf";
import { CoreError } from "../errors";

const LN_SQRT_2PI = 0.9189385332046727;
const INV_SQRT_2PI = 0.3989422804014327;

/**
 * Density of the standard normal distribution.
 * Formula: exp(-z^2 / 2) / sqrt(2 pi)
 * @param z - standardised value
 * @returns number >= 0
 */
export function normalDensity(z: number): number {
  return INV_SQRT_2PI * Math.exp(-0.5 * z * z);
}

/**
 * Natural logarithm of the standard normal density.
 * @param z - standardised value
 * @returns number, finite wherever z^2 does not overflow
 */
export function normalLogDensity(z: number): number {
  return -0.5 * z * z - LN_SQRT_2PI;
}

/**
 * Lower tail P(Z <= z) of the standard normal distribution.
 * @param z - standardised value, may be infinite
 * @returns probability; relative accuracy is kept far into the lower tail
 * Method: complementary error function of the distribution package.
 * Accuracy: 12 digits for -37 <= z <= 8, tests/core/distributions/normal.test.ts
 */
export function normalCdf(z: number): number {
  return normalCdfOf(z, 0, 1);
}

/**
 * Upper tail P(Z > z) of the standard normal distribution, evaluated directly (never as 1 - cdf).
 * @param z - standardised value, may be infinite
 * @returns probability
 */
export function normalSf(z: number): number {
  return normalCdfOf(-z, 0, 1);
}

/**
 * Probability P(a < Z <= b) of the standard normal distribution without cancellation, in either tail and between close ends.
 * @param a - lower end, a <= b
 * @param b - upper end
 * @returns probability
 */
export function normalInterval(a: number, b: number): number {
  if ((b - a) * Math.max(1, Math.abs(a), Math.abs(b)) < CLOSE) return betweenClose(a, b);
  if (a > 0) return Math.max(0, normalSf(a) - normalSf(b));
  if (b < 0) return Math.max(0, normalCdf(b) - normalCdf(a));
  return Math.max(0, 1 - normalCdf(a) - normalSf(b));
}

/** Below this, with the slope of the density, five nodes of Gauss and Legendre have all digits. */
const CLOSE = 0.05;
const NODES = [0, 0.538469310105683091, 0.906179845938663993] as const;
const WEIGHTS = [0.568888888888888889, 0.478628670499366468, 0.236926885056189088] as const;

function betweenClose(a: number, b: number): number {
  const [middle, half] = [(a + b) / 2, (b - a) / 2];
  const pair = (node: number) => normalDensity(middle - half * node) + normalDensity(middle + half * node);
  const sum = WEIGHTS[0] * normalDensity(middle) + WEIGHTS[1] * pair(NODES[1]) + WEIGHTS[2] * pair(NODES[2]);
  return Math.max(0, half * sum);
}

/**
 * Quantile of the standard normal distribution: z with P(Z <= z) = p.
 * @param p - probability, 0 <= p <= 1 (0 -> -Infinity, 1 -> Infinity)
 * @returns z; for an upper tail q use -normalQuantile(q), not normalQuantile(1 - q)
 * @throws CoreError out-of-range if p is not in [0, 1]
 * Method: Wichura's rational approximation, then one Halley step on the complementary error function. The package's own
 * quantile loses the lower tail (it returns -Infinity at 1e-300), so it is not used.
 * Accuracy: 13 digits for 1e-300 <= p <= 1 - 1e-10, tests/core/distributions/normal.test.ts
 * Source: Wichura 1988, Applied Statistics 37(3) 477-484, algorithm AS 241 (PPND16)
 * @example normalQuantile(0.975) // 1.959963984540054
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1)) throw new CoreError("out-of-range", `normalQuantile: p must be in [0, 1]; got ${p}`, { p });
  if (p === 0) return -Infinity;
  if (p === 1) return Infinity;
  const q = p - 0.5;
  if (Math.abs(q) <= 0.425) return centralQuantile(q);
  const tail = q < 0 ? p : 1 - p;
  const lower = refine(-tailQuantile(Math.sqrt(-Math.log(tail))), tail);
  return q < 0 ? lower : -lower;
}

/**
 * Upper quantile of the standard normal distribution: z with P(Z > z) = q.
 * @param q - upper tail probability, 0 <= q <= 1
 * @returns z
 * @throws CoreError out-of-range if q is not in [0, 1]
 */
export function normalUpperQuantile(q: number): number {
  return 0 - normalQuantile(q);
}

/** Halley step on cdf(z) - p, relative to the density; z < 0. */
function refine(z: number, p: number): number {
  const error = normalCdf(z) - p;
  const density = normalDensity(z);
  if (!(density > 0)) return z;
  const newton = error / density;
  const step = newton / (1 + 0.5 * z * newton);
  return Number.isFinite(step) ? z - step : z;
}

function ratio(x: number, numerator: readonly number[], denominator: readonly number[]): number {
  let top = 0;
  let bottom = 0;
  for (let i = numerator.length - 1; i >= 0; i--) top = top * x + numerator[i]!;
  for (let i = denominator.length - 1; i >= 0; i--) bottom = bottom * x + denominator[i]!;
  return top / bottom;
}

function centralQuantile(q: number): number {
  return q * ratio(0.180625 - q * q, CENTRE_TOP, CENTRE_BOTTOM);
}

function tailQuantile(r: number): number {
  return r <= 5 ? ratio(r - 1.6, NEAR_TOP, NEAR_BOTTOM) : ratio(r - 5, FAR_TOP, FAR_BOTTOM);
}

// Wichura 1988, AS 241, PPND16: coefficients a, b (centre), c, d (tail to r = 5), e, f (beyond).
const CENTRE_TOP = [
  3.387132872796366608, 133.14166789178437745, 1971.5909503065514427, 13731.693765509461125, 45921.953931549871457,
  67265.770927008700853, 33430.575583588128105, 2509.0809287301226727,
];
const CENTRE_BOTTOM = [
  1, 42.313330701600911252, 687.1870074920579083, 5394.1960214247511077, 21213.794301586595867, 39307.89580009271061,
  28729.085735721942674, 5226.495278852545925,
];
const NEAR_TOP = [
  1.42343711074968357734, 4.6303378461565452959, 5.7694972214606914055, 3.64784832476320460504, 1.27045825245236838258,
  0.24178072517745061177, 0.0227238449892691845833, 7.7454501427834140764e-4,
];
const NEAR_BOTTOM = [
  1, 2.05319162663775882187, 1.6763848301838038494, 0.68976733498510000455, 0.14810397642748007459,
  0.0151986665636164571966, 5.475938084995344946e-4, 1.05075007164441684324e-9,
];
const FAR_TOP = [
  6.6579046435011037772, 5.4637849111641143699, 1.7848265399172913358, 0.29656057182850489123, 0.026532189526576123093,
  0.0012426609473880784386, 2.71155556874348757815e-5, 2.01033439929228813265e-7,
];
const FAR_BOTTOM = [
  1, 0.59983220655588793769, 0.13692988092273580531, 0.0148753612908506148525, 7.868691311456132591e-4,
  1.8463183175100546818e-5, 1.4215117583164458887e-7, 2.04426310338993978564e-15,
];
