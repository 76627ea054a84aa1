import { CoreError, type Estimate } from "../errors";
import { isRoundingNoise } from "../control/charts/point-statistics";
import { fisherFSf } from "../distributions/fisher-f";
import { studentTQuantile, studentTSf } from "../distributions/student-t";
import { sampleMean } from "../numerics/descriptive-statistics";
import { exactSum } from "../numerics/exact-sum";
import { readingsByReference, type ReferencedReading } from "./gauge-bias";

/** A coefficient of the line with its test against 0; t and p null where nothing scatters about the line. */
export type LineCoefficient = Readonly<{
  value: number;
  standardError: number;
  interval: readonly [number, number];
  t: number | null;
  pValue: number | null;
}>;

export type GaugeLinearity = Readonly<{
  count: number;
  /** Bias per unit of the reference. */
  slope: LineCoefficient;
  /** Bias at reference 0. */
  intercept: LineCoefficient;
  residualSd: number;
  degrees: number;
  /** Null where all biases are equal. */
  rSquared: number | null;
  /** Bias over all readings. */
  meanBias: number;
  /** At each reference, in the order of size: mean bias of its readings, and the line with the interval of its mean. */
  references: readonly Readonly<{
    reference: number;
    count: number;
    bias: number;
    fitted: number;
    interval: readonly [number, number];
    /** Whether the interval of the line leaves 0 out. */
    isBiased: boolean;
  }>[];
  /** Test of the line against the mean biases themselves; null with two references, one reading each, or readings that repeat exactly. */
  lackOfFit: Readonly<{ f: number; degrees: readonly [number, number]; pValue: number }> | null;
}>;

function coefficient(value: number, standardError: number, quantile: number, degrees: number): LineCoefficient {
  const t = standardError > 0 ? value / standardError : null;
  return {
    value,
    standardError,
    interval: [value - quantile * standardError, value + quantile * standardError],
    t,
    pValue: t === null ? null : 2 * studentTSf(Math.abs(t), degrees),
  };
}

/**
 * Linearity of a gauge: regression of the bias on the reference.
 * Formula: d = a + b x by least squares, s^2 = sum (d - a - b x)^2 / (n - 2); interval of the line at x: t(n - 2) s sqrt(1/n + (x - m)^2 / Sxx)
 *
 * @param readings - n >= 3 readings of at least two references, one unit
 * @param confidence - of the two-sided intervals, default 0.95
 * @returns see GaugeLinearity; ok: false with a reason for fewer readings or one reference
 * @throws CoreError not-finite, out-of-range
 * Method: centred sums; biases are taken first, so that a large size costs no digits.
 * Accuracy: 9 digits on tests/reference/gauge-studies.json, case linearity
 * Source: NIST/SEMATECH e-Handbook 4.1.4.1 (straight line); ISO 11095
 */
export function gaugeLinearity(readings: readonly ReferencedReading[], confidence = 0.95): Estimate<GaugeLinearity> {
  if (!(confidence > 0 && confidence < 1))
    throw new CoreError("out-of-range", `gaugeLinearity: confidence must be in (0, 1); got ${confidence}`);
  readings.forEach(({ reference, value }, index) => {
    if (!Number.isFinite(reference) || !Number.isFinite(value))
      throw new CoreError(
        "not-finite",
        `gaugeLinearity: readings must be finite; got ${value} at ${reference} (at index ${index})`,
      );
  });
  const n = readings.length;
  const byReference = readingsByReference(readings);
  if (byReference.size < 2)
    return {
      ok: false,
      reason: "Linearity needs readings of at least two references of different size; there is one.",
    };
  if (n < 3)
    return {
      ok: false,
      reason: "Two readings make a line without anything left to judge it by. Read each reference again.",
    };
  const x = readings.map(({ reference }) => reference);
  const d = readings.map(({ reference, value }) => value - reference);
  const [meanX, meanD] = [sampleMean(x), sampleMean(d)];
  const spread = exactSum(x.map((each) => (each - meanX) ** 2));
  const slope = exactSum(x.map((each, index) => (each - meanX) * (d[index]! - meanD))) / spread;
  const residuals = d.map((each, index) => each - meanD - slope * (x[index]! - meanX));
  const noise = (sum: number) =>
    isRoundingNoise(
      Math.sqrt(sum / n),
      readings.map(({ value }) => value),
    )
      ? 0
      : sum;
  const error = noise(exactSum(residuals.map((each) => each * each)));
  const total = noise(exactSum(d.map((each) => (each - meanD) ** 2)));
  const degrees = n - 2;
  const s = Math.sqrt(error / degrees);
  const quantile = studentTQuantile((1 + confidence) / 2, degrees);
  const within = noise(
    exactSum(
      [...byReference].flatMap(([reference, values]) => {
        const biases = values.map((value) => value - reference);
        const mean = sampleMean(biases);
        return biases.map((each) => (each - mean) ** 2);
      }),
    ),
  );
  const lackDegrees = [byReference.size - 2, n - byReference.size] as const;
  const hasLack = lackDegrees[0] > 0 && lackDegrees[1] > 0 && within > 0;
  const f = hasLack ? Math.max(0, error - within) / lackDegrees[0] / (within / lackDegrees[1]) : 0;
  return {
    ok: true,
    warnings: [],
    value: {
      count: n,
      slope: coefficient(slope, s / Math.sqrt(spread), quantile, degrees),
      intercept: coefficient(meanD - slope * meanX, s * Math.sqrt(1 / n + (meanX * meanX) / spread), quantile, degrees),
      residualSd: s,
      degrees,
      rSquared: total > 0 ? Math.max(0, 1 - error / total) : null,
      meanBias: meanD,
      references: [...byReference].map(([reference, values]) => {
        const fitted = meanD + slope * (reference - meanX);
        const reach = quantile * s * Math.sqrt(1 / n + (reference - meanX) ** 2 / spread);
        return {
          reference,
          count: values.length,
          bias: sampleMean(values.map((value) => value - reference)),
          fitted,
          interval: [fitted - reach, fitted + reach] as const,
          isBiased: fitted - reach > 0 || fitted + reach < 0,
        };
      }),
      lackOfFit: hasLack ? { f, degrees: lackDegrees, pValue: fisherFSf(f, lackDegrees) } : null,
    },
  };
}
