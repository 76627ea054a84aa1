import { normalQuantile, normalSf } from "../../distributions/normal";
import { CoreError, type Estimate } from "../../errors";
import { assertAllFinite } from "../charts/chart-signals";
import { average, isRoundingNoise } from "../charts/point-statistics";

/**
 * Autocorrelation coefficient of a series at a lag.
 * Formula: r_k = sum((x_i - mean)(x_(i+k) - mean)) / sum((x_i - mean)^2).
 *
 * @param values - number[n], n >= lag + 2, all finite, in the order of time
 * @param lag - integer >= 1
 * @returns number in (-1, 1); ok: false if all values are equal
 * @throws CoreError too-few-values, not-finite, out-of-range
 * Accuracy: the certified digits of NIST StRD, tests/core/control/causes/autocorrelation.test.ts
 * Source: Box, Jenkins and Reinsel 2008, Time Series Analysis, 4th ed., 2.1.6
 */
export function autocorrelation(values: readonly number[], lag = 1): Estimate<number> {
  const name = "autocorrelation";
  if (!Number.isInteger(lag) || lag < 1) {
    throw new CoreError("out-of-range", `${name}: lag must be an integer >= 1; got ${lag}`, { lag });
  }
  if (values.length < lag + 2) {
    throw new CoreError("too-few-values", `${name}: values must have at least ${lag + 2} values; got ${values.length}`);
  }
  assertAllFinite(name, values);
  // The mean again about itself: the first pass of a large offset leaves a rounding error that the second removes.
  const first = average(values);
  const mean = first + average(values.map((value) => value - first));
  let products = 0;
  let squares = 0;
  for (let index = 0; index < values.length; index++) {
    const deviation = values[index]! - mean;
    squares += deviation * deviation;
    if (index >= lag) products += deviation * (values[index - lag]! - mean);
  }
  if (isRoundingNoise(Math.sqrt(squares / values.length), values)) {
    return { ok: false, reason: "All values are equal: there is nothing to correlate." };
  }
  return { ok: true, value: products / squares, warnings: [] };
}

/** What autocorrelation does to a chart of individuals with limits from moving ranges. */
export type AutocorrelationEffect = Readonly<{
  /** Coefficient at lag 1. */
  lag1: number;
  /** Ends of the band that independent values stay in. */
  band: number;
  significant: boolean;
  /** sigma from moving ranges / true sigma: sqrt(1 - lag1) for a first-order process. */
  sigmaRatio: number;
  /** Points beyond three-sigma limits, as a multiple of what independent values give. */
  falseAlarmRatio: number;
}>;

/**
 * Autocorrelation of individuals and its effect on their limits.
 * Formula: mean moving range of a first-order process = d2 sigma sqrt(1 - r1); independent values have |r1| below
 * z / sqrt(n) about -1/n.
 *
 * @param values - number[n], n >= 10, all finite, in the order of time
 * @param confidence - of the band, in (0, 1); 0.95 by default
 * @returns the effect, with a warning in words where it is significant; ok: false if all values are equal or n < 10
 * @throws CoreError not-finite, out-of-range
 * Source: Maragah and Woodall 1992, Journal of Statistical Computation and Simulation 40 29-42; band: Bartlett 1946
 */
export function autocorrelationEffect(values: readonly number[], confidence = 0.95): Estimate<AutocorrelationEffect> {
  if (!(confidence > 0 && confidence < 1)) {
    throw new CoreError("out-of-range", `autocorrelationEffect: confidence must be in (0, 1); got ${confidence}`);
  }
  assertAllFinite("autocorrelationEffect", values);
  if (values.length < 10) {
    return { ok: false, reason: `Autocorrelation needs at least 10 values; there are ${values.length}.` };
  }
  const coefficient = autocorrelation(values, 1);
  if (!coefficient.ok) return coefficient;
  const lag1 = coefficient.value;
  const band = normalQuantile((1 + confidence) / 2) / Math.sqrt(values.length);
  const significant = Math.abs(lag1 + 1 / values.length) > band;
  const sigmaRatio = Math.sqrt(1 - lag1);
  const falseAlarmRatio = normalSf(3 * sigmaRatio) / normalSf(3);
  const warnings: string[] = [];
  if (significant && lag1 > 0) {
    warnings.push(
      "Neighbouring values are alike: limits from moving ranges are too narrow and alarm falsely. Use limits about the trend, or the overall standard deviation.",
    );
  } else if (significant) {
    warnings.push(
      "Neighbouring values alternate: limits from moving ranges are too wide. Look for two sources taken in turn.",
    );
  }
  return { ok: true, value: { lag1, band, significant, sigmaRatio, falseAlarmRatio }, warnings };
}
