import { CoreError } from "../errors";
import { besselRatio, scaledBesselI0 } from "../numerics/bessel-i";
import { isConstant, sampleMean, sampleSd } from "../numerics/descriptive-statistics";
import type { DistributionModel } from "./distribution-model";
import { fitJohnson } from "./fit-johnson";

/** Families whose parameters are estimated here. */
export type FittedFamily = "normal" | "folded-normal" | "lognormal" | "weibull" | "rayleigh" | "rice" | "johnson";

/** Fit of one family: of maximum likelihood, the Johnson curve by quantiles. */
export interface DistributionFit {
  readonly model: DistributionModel;
  readonly parameters: number;
  readonly logLikelihood: number;
}

const LN_SQRT_2PI = 0.9189385332046727;

/**
 * Fit of one family to a sample: of maximum likelihood, but for the Johnson curve (fitJohnson).
 * @param family - which family
 * @param x - number[n], n >= 3, any unit, all finite, not all equal; > 0 for lognormal, weibull, rayleigh and rice, >= 0
 *   for folded-normal
 * @returns fit, or null if the values lie outside the family's support (or differ by rounding only); the normal model carries the unbiased sd (n - 1),
 *   its likelihood is taken at the maximum
 * @throws CoreError too-few-values, not-finite, degenerate if all values are equal
 * Method: closed form (normal, lognormal, Rayleigh); safeguarded Newton or secant iteration on one score equation
 * (Weibull shape; Rice offset and folded normal mean from the second and fourth moment).
 * Source: Johnson, Kotz & Balakrishnan 1994, Continuous Univariate Distributions 1, 2nd ed., chapters 13, 14, 18, 21
 */
export function fitDistribution(family: FittedFamily, x: readonly number[]): DistributionFit | null {
  if (x.length < 3) {
    throw new CoreError("too-few-values", `fitDistribution: x must have at least 3 values; got ${x.length}`, {
      n: x.length,
    });
  }
  if (isConstant(x)) throw new CoreError("degenerate", "fitDistribution: x must not be constant");
  let smallest = Infinity;
  for (const value of x) {
    if (!Number.isFinite(value)) throw new CoreError("not-finite", `fitDistribution: x must be finite; got ${value}`);
    if (value < smallest) smallest = value;
  }
  if (family === "normal") return fitNormal(x);
  if (family === "johnson") {
    const fit = fitJohnson(x);
    if (fit === null) return null;
    return { model: { family, ...fit.parameters }, parameters: 4, logLikelihood: fit.logLikelihood };
  }
  if (family === "folded-normal") return smallest >= 0 ? fitFoldedNormal(x) : null;
  if (!(smallest > 0)) return null;
  switch (family) {
    case "lognormal":
      return fitLognormal(x);
    case "weibull":
      return fitWeibull(x);
    case "rayleigh":
      return fitRayleigh(x);
    case "rice":
      return fitRice(x);
  }
}

function fitNormal(x: readonly number[]): DistributionFit {
  const n = x.length;
  const sd = sampleSd(x);
  const variance = (sd * sd * (n - 1)) / n;
  return {
    model: { family: "normal", mean: sampleMean(x), sd },
    parameters: 2,
    logLikelihood: -n * (0.5 * Math.log(variance) + LN_SQRT_2PI + 0.5),
  };
}

function fitLognormal(x: readonly number[]): DistributionFit | null {
  const logs = x.map(Math.log);
  const n = x.length;
  const logMean = sampleMean(logs);
  const logSd = Math.sqrt((sampleSd(logs) ** 2 * (n - 1)) / n);
  // Values that differ by less than their logarithms can show: no lognormal fit.
  if (!(logSd > 0)) return null;
  return {
    model: { family: "lognormal", logMean, logSd },
    parameters: 2,
    logLikelihood: -n * (Math.log(logSd) + LN_SQRT_2PI + 0.5 + logMean),
  };
}

function fitRayleigh(x: readonly number[]): DistributionFit {
  const n = x.length;
  let square = 0;
  let logs = 0;
  for (const value of x) {
    square += value * value;
    logs += Math.log(value);
  }
  const variance = square / (2 * n);
  return {
    model: { family: "rayleigh", sigma: Math.sqrt(variance) },
    parameters: 1,
    logLikelihood: logs - n * Math.log(variance) - n,
  };
}

function fitWeibull(x: readonly number[]): DistributionFit {
  const n = x.length;
  const logs = x.map(Math.log);
  const centre = sampleMean(logs);
  for (let i = 0; i < n; i++) logs[i]! -= centre;
  let shape = 1.283 / Math.max(sampleSd(logs), 1e-12);
  for (let iteration = 0; iteration < 60; iteration++) {
    let s0 = 0;
    let s1 = 0;
    let s2 = 0;
    for (const value of logs) {
      const power = Math.exp(shape * value);
      s0 += power;
      s1 += power * value;
      s2 += power * value * value;
    }
    const ratio = s1 / s0;
    // score 1/k + mean(ln x) - s1/s0, mean(ln x) = 0 after centring; it falls monotonically in k
    const step = (1 / shape - ratio) / (1 / (shape * shape) + s2 / s0 - ratio * ratio);
    const next = Math.min(Math.max(shape + step, shape / 3), shape * 3);
    const done = Math.abs(next - shape) <= 1e-13 * shape;
    shape = next;
    if (done) break;
  }
  let sum = 0;
  for (const value of logs) sum += Math.exp(shape * value);
  const logScale = centre + Math.log(sum / n) / shape;
  return {
    model: { family: "weibull", shape, scale: Math.exp(logScale) },
    parameters: 2,
    logLikelihood: n * (Math.log(shape) - shape * (logScale - centre) - centre - 1),
  };
}

/** A gain of a score equation and its derivative by u, from u and the gain. */
interface Gain {
  readonly of: (u: number) => number;
  readonly slope: (u: number, gain: number) => number;
  /** Ratio m4 / m2^2 of the centred distribution: below it the fourth moment speaks of an offset. */
  readonly centredRatio: 2 | 3;
}

const FOLDED_GAIN: Gain = { of: Math.tanh, slope: (_, gain) => 1 - gain * gain, centredRatio: 3 };
const RICE_GAIN: Gain = { of: besselRatio, slope: (u, gain) => 1 - gain / u - gain * gain, centredRatio: 2 };

/** Offsets of this part of the root mean square and more are searched for from the moments; the score is steep enough there. */
const CLEAR_OFFSET = 0.3;
/** Length of the last step of Newton's method, in standard deviations: the next would be its square. */
const LAST_STEP = 1e-7;
const MOST_STEPS = 12;

/**
 * Both the folded normal (gain tanh) and the Rice distribution (gain I1/I0) have the score equation
 * v = mean(x gain(x v / s^2)) with s^2 = (m2 - v^2) / components; solved for v by Newton's method from the second and fourth
 * moment, by bracketing with secant steps where that does not settle.
 */
function solveOffset(x: readonly number[], components: 1 | 2, gain: Gain): { v: number; s2: number } {
  const n = x.length;
  let m2 = 0;
  let m4 = 0;
  for (const value of x) {
    const square = value * value;
    m2 += square;
    m4 += square * square;
  }
  m2 /= n;
  m4 /= n;
  const v = newtonOffset(x, components, gain, { m2, m4 }) ?? bracketedOffset(x, components, gain, m2);
  return { v, s2: (m2 - v * v) / components };
}

/** Root of the score from the offset of equal second and fourth moment; null where it is not clear of 0 or does not settle. */
function newtonOffset(
  x: readonly number[],
  components: 1 | 2,
  gain: Gain,
  { m2, m4 }: { readonly m2: number; readonly m4: number },
): number | null {
  const n = x.length;
  const top = Math.sqrt(m2);
  // v^4 = (centredRatio m2^2 - m4) / (centredRatio - 1) of either distribution
  let v = (Math.max(0, gain.centredRatio * m2 * m2 - m4) / (gain.centredRatio - 1)) ** 0.25;
  for (let step = 0; step < MOST_STEPS; step++) {
    if (!(v > CLEAR_OFFSET * top && v < top * (1 - 1e-12))) return null;
    const s2 = (m2 - v * v) / components;
    const perValue = v / s2;
    const growth = (1 + (2 * v * v) / (components * s2)) / s2;
    let sum = 0;
    let slope = 0;
    for (let i = 0; i < n; i++) {
      const value = x[i]!;
      const u = value * perValue;
      const g = gain.of(u);
      sum += value * g;
      // at 0 the value itself takes the slope away
      if (u > 0) slope += value * value * gain.slope(u, g);
    }
    const shift = (sum / n - v) / (1 - (growth * slope) / n);
    v += shift;
    if (Math.abs(shift) <= Math.max(LAST_STEP * Math.sqrt(s2), 1e-14 * top)) return v;
  }
  return null;
}

function bracketedOffset(x: readonly number[], components: 1 | 2, gain: Gain, m2: number): number {
  const n = x.length;
  const excess = (v: number): number => {
    const s2 = (m2 - v * v) / components;
    let sum = 0;
    for (const value of x) sum += value * gain.of((value * v) / s2);
    return sum / n / v - 1;
  };
  const top = Math.sqrt(m2);
  let low = 1e-3 * top;
  let fLow = excess(low);
  // excess > 0 near 0 means that an offset is favoured; otherwise the centred distribution is the maximum.
  if (fLow <= 0) return 0;
  let high = top * (1 - 1e-12);
  let fHigh = excess(high);
  let side = 0;
  let v = low;
  for (let iteration = 0; iteration < 100; iteration++) {
    v = (low * fHigh - high * fLow) / (fHigh - fLow);
    if (!(v > low && v < high)) v = 0.5 * (low + high);
    const f = excess(v);
    if (high - low <= 1e-11 * top || Math.abs(f) < 1e-11) break;
    if (f > 0) {
      low = v;
      fLow = f;
      if (side === 1) fHigh *= 0.5;
      side = 1;
    } else {
      high = v;
      fHigh = f;
      if (side === -1) fLow *= 0.5;
      side = -1;
    }
  }
  return v;
}

function fitFoldedNormal(x: readonly number[]): DistributionFit {
  const n = x.length;
  const { v, s2 } = solveOffset(x, 1, FOLDED_GAIN);
  let sum = 0;
  // ln(phi(x - v) + phi(x + v)) = ln phi(x - v) + ln(1 + exp(-2 x v / s2))
  for (const value of x) sum += (-0.5 * (value - v) ** 2) / s2 + Math.log1p(Math.exp((-2 * value * v) / s2));
  return {
    model: { family: "folded-normal", mu: v, sigma: Math.sqrt(s2) },
    parameters: 2,
    logLikelihood: sum - n * (0.5 * Math.log(s2) + LN_SQRT_2PI),
  };
}

function fitRice(x: readonly number[]): DistributionFit {
  const n = x.length;
  const { v, s2 } = solveOffset(x, 2, RICE_GAIN);
  let sum = 0;
  for (const value of x) {
    sum += Math.log(value) - (0.5 * (value - v) ** 2) / s2 + Math.log(scaledBesselI0((value * v) / s2));
  }
  return {
    model: { family: "rice", offset: v, sigma: Math.sqrt(s2) },
    parameters: 2,
    logLikelihood: sum - n * Math.log(s2),
  };
}
