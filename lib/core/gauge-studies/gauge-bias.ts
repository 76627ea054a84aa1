import { CoreError, type Estimate } from "../errors";
import { isRoundingNoise } from "../control/charts/point-statistics";
import { studentTQuantile, studentTSf } from "../distributions/student-t";
import { sampleMean, sampleSd } from "../numerics/descriptive-statistics";
import { nothingResolved } from "./nothing-resolved";

/** A reading of something whose size is known, one unit for both. */
export type ReferencedReading = Readonly<{ reference: number; value: number }>;

export type GaugeBias = Readonly<{
  reference: number;
  count: number;
  mean: number;
  /** Mean less reference: plus where the gauge reads too large. */
  bias: number;
  interval: readonly [number, number];
  repeatability: number;
  degrees: number;
  t: number;
  /** Two-sided. */
  pValue: number;
}>;

/**
 * Bias of a gauge at one reference.
 * Formula: bias = m - x_ref, t = bias sqrt(n) / s, interval bias -/+ t(n - 1) s / sqrt(n)
 *
 * @param reference - certified value
 * @param values - n >= 2 readings of it, same unit
 * @param confidence - of the two-sided interval, default 0.95
 * @returns see GaugeBias; ok: false with a reason for one reading, or where all are equal
 * @throws CoreError too-few-values, not-finite, out-of-range
 * Source: ISO 22514-7 (bias), t interval of a mean
 */
export function gaugeBias(reference: number, values: readonly number[], confidence = 0.95): Estimate<GaugeBias> {
  if (!Number.isFinite(reference))
    throw new CoreError("not-finite", `gaugeBias: reference must be finite; got ${reference}`);
  if (!(confidence > 0 && confidence < 1))
    throw new CoreError("out-of-range", `gaugeBias: confidence must be in (0, 1); got ${confidence}`);
  if (values.length < 2) {
    sampleMean(values);
    return {
      ok: false,
      reason: `The reference ${reference} was read once only: how well a reading repeats cannot be seen.`,
    };
  }
  const deviations = values.map((value) => value - reference);
  const bias = sampleMean(deviations);
  const repeatability = sampleSd(deviations);
  if (isRoundingNoise(repeatability, [...values, reference]))
    return nothingResolved(
      values,
      `All ${values.length} readings of the reference ${reference} are ${values[0]}: the gauge does not resolve how it repeats, so the bias has no interval. Use a finer step.`,
    );
  const degrees = values.length - 1;
  const error = repeatability / Math.sqrt(values.length);
  const reach = studentTQuantile((1 + confidence) / 2, degrees) * error;
  const t = bias / error;
  return {
    ok: true,
    warnings: [],
    value: {
      reference,
      count: values.length,
      mean: reference + bias,
      bias,
      interval: [bias - reach, bias + reach],
      repeatability,
      degrees,
      t,
      pValue: 2 * studentTSf(Math.abs(t), degrees),
    },
  };
}

/** Readings of each reference, in the order of size. */
export function readingsByReference(readings: readonly ReferencedReading[]): ReadonlyMap<number, readonly number[]> {
  const byReference = new Map<number, number[]>();
  for (const { reference, value } of [...readings].sort((a, b) => a.reference - b.reference)) {
    const kept = byReference.get(reference);
    if (kept) kept.push(value);
    else byReference.set(reference, [value]);
  }
  return byReference;
}
