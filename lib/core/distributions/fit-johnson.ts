import { normalCdf } from "./normal";
import type { JohnsonParameters } from "./johnson";

/** Half distances between the four normal scores that are tried. */
const SMALLEST_Z = 0.25;
const LARGEST_Z = 1.25;
const Z_STEPS = 20;
const LN_SQRT_2PI = 0.9189385332046727;
/** Closer to 1 than this the product of the spacings is a lognormal's. */
const LOGNORMAL_BAND = 1e-9;

/**
 * Johnson curve through four sample quantiles at equally spaced normal scores -3z, -z, z, 3z; of the spacings tried the one
 * with the greatest likelihood is kept.
 * Formula: with m = x_3z - x_z, p = x_z - x_-z, n = x_-z - x_-3z: unbounded where m n / p^2 > 1, bounded where it is < 1,
 *   lognormal where it is 1.
 *
 * @param x - number[n], n >= 8, all finite, not all equal
 * @returns the curve and its log likelihood; null where none of the spacings gives a curve that holds all values
 * Accuracy: the parameters of any Johnson curve come back from its own quantiles to 9 digits
 * Source: Slifker and Shapiro 1980, Technometrics 22(2) 239-246; choice of z: Chou, Polansky and Mason 1998, Journal of
 *   Quality Technology 30(2) 133-141 (by likelihood here)
 */
export function fitJohnson(
  x: readonly number[],
): { readonly parameters: JohnsonParameters; readonly logLikelihood: number } | null {
  const sorted = Float64Array.from(x).sort();
  let best: { parameters: JohnsonParameters; logLikelihood: number } | null = null;
  for (let step = 0; step <= Z_STEPS; step++) {
    const z = SMALLEST_Z + ((LARGEST_Z - SMALLEST_Z) * step) / Z_STEPS;
    const parameters = johnsonThrough(
      [-3 * z, -z, z, 3 * z].map((score) => sampleQuantile(sorted, normalCdf(score))),
      z,
    );
    if (parameters === null) continue;
    const logLikelihood = likelihoodOf(sorted, parameters);
    if (Number.isFinite(logLikelihood) && (best === null || logLikelihood > best.logLikelihood))
      best = { parameters, logLikelihood };
  }
  return best;
}

/**
 * The Johnson curve with given quantiles at the normal scores -3z, -z, z and 3z.
 *
 * @param quantiles - four, ascending
 * @param z - > 0
 * @returns parameters, or null where two quantiles are equal or no curve has them
 */
export function johnsonThrough(quantiles: readonly number[], z: number): JohnsonParameters | null {
  const [x1, x2, x3, x4] = quantiles as [number, number, number, number];
  const p = x3 - x2;
  const [m, n] = [(x4 - x3) / p, (x2 - x1) / p];
  if (!(m > 0 && n > 0 && m < Infinity && n < Infinity)) return null;
  const product = m * n;
  const middle = (x2 + x3) / 2;
  const curve =
    Math.abs(product - 1) < LOGNORMAL_BAND
      ? lognormal(m, p, middle, z)
      : product > 1
        ? unbounded(m, n, p, middle, z)
        : bounded(1 / m, 1 / n, p, middle, z);
  return Object.values(curve).every((value) => typeof value === "string" || Number.isFinite(value)) &&
    curve.delta > 0 &&
    curve.lambda > 0
    ? curve
    : null;
}

function unbounded(m: number, n: number, p: number, middle: number, z: number): JohnsonParameters {
  const root = Math.sqrt(m * n - 1);
  const delta = (2 * z) / Math.acosh((m + n) / 2);
  return {
    system: "unbounded",
    gamma: delta * Math.asinh((n - m) / (2 * root)),
    delta,
    xi: middle + (p * (n - m)) / (2 * (m + n - 2)),
    lambda: (2 * p * root) / ((m + n - 2) * Math.sqrt(m + n + 2)),
  };
}

/** `m` and `n` are p over the spacings here. */
function bounded(m: number, n: number, p: number, middle: number, z: number): JohnsonParameters {
  const square = (1 + m) * (1 + n);
  const excess = m * n - 1;
  const delta = z / Math.acosh(Math.sqrt(square) / 2);
  const lambda = (p * Math.sqrt((square - 2) ** 2 - 4)) / excess;
  return {
    system: "bounded",
    gamma: delta * Math.asinh(((n - m) * Math.sqrt(square - 4)) / (2 * excess)),
    delta,
    xi: middle - lambda / 2 + (p * (n - m)) / (2 * excess),
    lambda,
  };
}

function lognormal(m: number, p: number, middle: number, z: number): JohnsonParameters {
  const delta = (2 * z) / Math.log(m);
  return {
    system: "lognormal",
    gamma: delta * Math.log((m - 1) / (p * Math.sqrt(m))),
    delta,
    xi: middle - (p / 2) * ((m + 1) / (m - 1)),
    lambda: 1,
  };
}

/** Sum of log densities; the slopes are multiplied before their logarithm is taken, 16 at a time. */
function likelihoodOf(sorted: Float64Array, { system, gamma, delta, xi, lambda }: JohnsonParameters): number {
  let squares = 0;
  let logs = 0;
  let slopes = 1;
  for (let i = 0; i < sorted.length; i++) {
    const u = (sorted[i]! - xi) / lambda;
    let g: number;
    if (system === "unbounded") {
      const root = Math.sqrt(1 + u * u);
      g = u >= 0 ? Math.log(u + root) : -Math.log(root - u);
      slopes *= root;
    } else {
      if (!(u > 0) || (system === "bounded" && u >= 1)) return -Infinity;
      const rest = system === "bounded" ? 1 - u : 1;
      g = Math.log(u / rest);
      slopes *= u * rest;
    }
    squares += (gamma + delta * g) ** 2;
    if (i % 16 === 15) {
      logs += Math.log(slopes);
      slopes = 1;
    }
  }
  logs += Math.log(slopes);
  return sorted.length * (Math.log(delta / lambda) - LN_SQRT_2PI) - logs - squares / 2;
}

/** Quantile by interpolation between the order statistics, the i-th at (i - 1/2) / n. */
function sampleQuantile(sorted: Float64Array, probability: number): number {
  const position = Math.min(Math.max(probability * sorted.length - 0.5, 0), sorted.length - 1);
  const low = Math.floor(position);
  const share = position - low;
  return sorted[low]! * (1 - share) + sorted[Math.min(low + 1, sorted.length - 1)]! * share;
}
