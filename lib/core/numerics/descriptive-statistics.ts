import { max, min, quantile as sampleQuantile } from "simple-statistics";
import { CoreError } from "../errors";

/** Summary of one sample; unit u of the values unless stated. */
export interface SampleSummary {
  readonly n: number;
  readonly mean: number;
  /** Unbiased (n - 1); null for one value. */
  readonly sd: number | null;
  readonly smallest: number;
  readonly largest: number;
  readonly median: number;
}

/**
 * Arithmetic mean, corrected for rounding.
 * @param x - number[n], n >= 1, any unit u, all finite
 * @returns mean, unit u
 * @throws CoreError too-few-values if n = 0, not-finite
 * Method: compensated sum, then one correction by the mean of the residuals.
 * Accuracy: 15 digits on tests/reference/strd-univariate.json
 * Source: Neumaier 1974, ZAMM 54, 39-51; Chan, Golub & LeVeque 1983, The American Statistician 37(3), 242-247
 */
export function sampleMean(x: readonly number[]): number {
  requireValues("sampleMean", x, 1);
  const first = compensatedSum(x, 0) / x.length;
  return first + compensatedSum(x, first) / x.length;
}

/**
 * Sample standard deviation (unbiased variance, n - 1 divisor).
 * Formula: s^2 = (sum (x_i - m)^2 - (sum (x_i - m))^2 / n) / (n - 1)
 * @param x - number[n], n >= 2, any unit u, all finite
 * @returns number >= 0, unit u
 * @throws CoreError too-few-values if n < 2, not-finite
 * Method: two passes with the correction term; stable for large offsets.
 * Accuracy: digits per set in tests/core/numerics/descriptive-statistics.test.ts
 * Edge cases: all values equal -> 0
 * Source: Chan, Golub & LeVeque 1983, The American Statistician 37(3), 242-247
 */
export function sampleSd(x: readonly number[]): number {
  requireValues("sampleSd", x, 2);
  const mean = sampleMean(x);
  let square = 0;
  let carry = 0;
  let drift = 0;
  for (const value of x) {
    const d = value - mean;
    drift += d;
    const term = d * d - carry;
    const next = square + term;
    carry = next - square - term;
    square = next;
  }
  return Math.sqrt(Math.max(0, square - (drift * drift) / x.length) / (x.length - 1));
}

/**
 * Autocorrelation coefficient of a series in order of time.
 * Formula: r_k = sum_{i=1..n-k} (x_i - m)(x_{i+k} - m) / sum (x_i - m)^2
 * @param x - number[n], n > lag + 1, all finite, not all equal
 * @param lag - integer >= 1, default 1
 * @returns coefficient in [-1, 1]
 * @throws CoreError too-few-values, not-finite, out-of-range for another lag, degenerate if all values are equal
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.12
 */
export function autocorrelation(x: readonly number[], lag = 1): number {
  if (!Number.isInteger(lag) || lag < 1) {
    throw new CoreError("out-of-range", `autocorrelation: lag must be an integer >= 1; got ${lag}`, { lag });
  }
  requireValues("autocorrelation", x, lag + 2);
  if (isConstant(x)) throw new CoreError("degenerate", "autocorrelation: x must not be constant");
  const deviations = deviationsOf(x);
  let cross = 0;
  let square = 0;
  for (let i = 0; i < x.length; i++) {
    const d = deviations[i]!;
    square += d * d;
    if (i >= lag) cross += d * deviations[i - lag]!;
  }
  return cross / square;
}

/** Skewness and excess kurtosis of a sample, moment form (g) and bias-corrected form (G). */
export interface SampleShape {
  readonly g1: number;
  readonly g2: number;
  readonly G1: number;
  readonly G2: number;
}

/**
 * Skewness and excess kurtosis.
 * Formula: g1 = m3/m2^1.5, g2 = m4/m2^2 - 3; G1 = g1 sqrt(n(n-1))/(n-2), G2 = ((n+1) g2 + 6)(n-1)/((n-2)(n-3))
 * @param x - number[n], n >= 4, all finite, not all equal
 * @returns both forms, without unit
 * @throws CoreError too-few-values, not-finite, degenerate if all values are equal
 * Accuracy: 9 digits on tests/reference/anderson-darling.json (data set Lew)
 * Source: Joanes & Gill 1998, The Statistician 47(1), 183-189
 */
export function sampleShape(x: readonly number[]): SampleShape {
  requireValues("sampleShape", x, 4);
  if (isConstant(x)) throw new CoreError("degenerate", "sampleShape: x must not be constant");
  const n = x.length;
  const scale = sampleSd(x);
  let m2 = 0;
  let m3 = 0;
  let m4 = 0;
  for (const deviation of deviationsOf(x)) {
    const d = deviation / scale;
    m2 += d * d;
    m3 += d * d * d;
    m4 += d * d * d * d;
  }
  const g1 = (m3 / n) * (n / m2) ** 1.5;
  const g2 = (m4 / n) * (n / m2) ** 2 - 3;
  return {
    g1,
    g2,
    G1: (g1 * Math.sqrt(n * (n - 1))) / (n - 2),
    G2: (((n + 1) * g2 + 6) * (n - 1)) / ((n - 2) * (n - 3)),
  };
}

/**
 * Count, mean, standard deviation, extremes and median of one sample.
 * @param x - number[n], n >= 1, any unit u, all finite
 * @returns summary, unit u
 * @throws CoreError too-few-values if n = 0, not-finite
 */
export function sampleSummary(x: readonly number[]): SampleSummary {
  requireValues("sampleSummary", x, 1);
  const values = [...x];
  return {
    n: x.length,
    mean: sampleMean(x),
    sd: x.length > 1 ? sampleSd(x) : null,
    smallest: min(values),
    largest: max(values),
    median: sampleQuantile(values, 0.5),
  };
}

/** Whether all values are exactly equal: the one case in which no spread can be estimated. */
export function isConstant(x: readonly number[]): boolean {
  return x.every((value) => value === x[0]);
}

/** Deviations from the mean, taken from the first value, so that a large offset costs no more digits than x itself lost. */
function deviationsOf(x: readonly number[]): number[] {
  const origin = x[0]!;
  const shifted = x.map((value) => value - origin);
  const mean = sampleMean(shifted);
  return shifted.map((value) => value - mean);
}

function compensatedSum(x: readonly number[], offset: number): number {
  let sum = 0;
  let carry = 0;
  for (const value of x) {
    const term = value - offset;
    const next = sum + term;
    carry += Math.abs(sum) >= Math.abs(term) ? sum - next + term : term - next + sum;
    sum = next;
  }
  return sum + carry;
}

function requireValues(name: string, x: readonly number[], least: number): void {
  if (x.length < least) {
    throw new CoreError("too-few-values", `${name}: x must have at least ${least} values; got ${x.length}`, {
      n: x.length,
    });
  }
  const index = x.findIndex((value) => !Number.isFinite(value));
  if (index >= 0) {
    throw new CoreError("not-finite", `${name}: x must be finite; got ${x[index]} (at index ${index})`, { index });
  }
}
