import type { Slope } from "../numerics/maximise";
import { normalInterval } from "./normal";
import type { RoundedSample } from "./rounded-sample";

const SQRT_2PI = 2.5066282746310002;

/** Derivatives by two parameters: first, second, mixed. */
type Derivatives = { one: number; two: number; oneOne: number; oneTwo: number; twoTwo: number };

/**
 * Derivatives of the log likelihood of a family that a shift and a scale make, for values known to intervals, or exactly.
 * Formula: z = e^(-b) (w(x) - a) of the normal law, z = e^b w(x) - e^b a of the Weibull law, whose z is the logarithm of the
 * cumulative hazard; by a and b
 * @param law - "normal": F = Phi(z); "weibull": F = 1 - exp(-e^z)
 * @param score - w(x), growing; -Infinity where nothing lies below
 * @param at - [a, b]
 * @param sample - different values with what they stand for
 * @returns gradient and Hessian; null where they are not finite
 * Source: Kulldorff 1961, Contributions to the Theory of Estimation from Grouped and Partially Grouped Samples
 */
export function scaleSlope(
  law: "normal" | "weibull",
  score: (x: number) => number,
  at: readonly number[],
  sample: RoundedSample,
): Slope | null {
  return slopeFrom(scaleDerivatives(law, score, at, sample));
}

function scaleDerivatives(
  law: "normal" | "weibull",
  score: (x: number) => number,
  at: readonly number[],
  { values, low, high, counts }: RoundedSample,
): Derivatives {
  const turn = law === "normal" ? -1 : 1;
  const scale = Math.exp(turn * at[1]!);
  const shift = scale * at[0]!;
  const sum: Derivatives = { one: 0, two: 0, oneOne: 0, oneTwo: 0, twoTwo: 0 };
  for (let i = 0; i < values.length; i++) {
    const count = counts[i]!;
    if (low[i] === high[i]) {
      const z = scale * score(values[i]!) - shift;
      const hazard = law === "normal" ? 0 : Math.exp(z);
      // first and second derivative of ln f by z
      const rise = law === "normal" ? -z : 1 - hazard;
      const bend = law === "normal" ? -1 : -hazard;
      sum.one -= count * scale * rise;
      sum.two += count * turn * (rise * z + 1);
      sum.oneOne += count * scale * scale * bend;
      sum.oneTwo -= count * turn * scale * (bend * z + rise);
      sum.twoTwo += count * (bend * z * z + rise * z);
      continue;
    }
    const from = scale * score(low[i]!) - shift;
    const to = scale * score(high[i]!) - shift;
    const mass = law === "normal" ? normalInterval(from, to) : hazardInterval(from, to);
    const z1 = from === -Infinity ? 0 : from;
    const f1 = from === -Infinity ? 0 : law === "normal" ? normalAt(from) : hazardAt(from);
    const f2 = law === "normal" ? normalAt(to) : hazardAt(to);
    // derivative of the density
    const g1 = f1 * (law === "normal" ? -z1 : 1 - Math.exp(z1));
    const g2 = f2 * (law === "normal" ? -to : 1 - Math.exp(to));
    const rise = (f2 - f1) / mass;
    const turned = (f2 * to - f1 * z1) / mass;
    const one = -scale * rise;
    const two = turn * turned;
    sum.one += count * one;
    sum.two += count * two;
    sum.oneOne += count * ((scale * scale * (g2 - g1)) / mass - one * one);
    sum.oneTwo += count * (-turn * scale * ((g2 * to - g1 * z1) / mass + rise) - one * two);
    sum.twoTwo += count * ((g2 * to * to - g1 * z1 * z1) / mass + turned - two * two);
  }
  return sum;
}

/**
 * The same of the folded normal distribution, by the square of its mean and the logarithm of its scale.
 * Formula: mu = width sqrt(a), sigma = width e^b; P(low < X <= high) is that of the normal law on both sides of 0
 * @param width - unit of the values
 * @param at - [a, b], a >= 0
 * @param sample - different values with what they stand for
 * @returns gradient and Hessian; null where they are not finite, as at a = 0
 */
export function foldedSlope(width: number, at: readonly number[], sample: RoundedSample): Slope | null {
  const mu = width * Math.sqrt(at[0]!);
  const byMu = foldedDerivatives(mu, width * Math.exp(at[1]!), sample);
  const first = (width * width) / (2 * mu);
  const second = -(width ** 4) / (4 * mu ** 3);
  return slopeFrom({
    one: byMu.one * first,
    two: byMu.two,
    oneOne: byMu.oneOne * first * first + byMu.one * second,
    oneTwo: byMu.oneTwo * first,
    twoTwo: byMu.twoTwo,
  });
}

/**
 * The same of the folded normal distribution whose mean is 0, by the logarithm of its scale alone.
 * @param sigma - scale, unit of the values
 * @param sample - different values with what they stand for
 */
export function centredFoldedSlope(sigma: number, sample: RoundedSample): Slope | null {
  return alongOne(foldedDerivatives(0, sigma, sample), "two");
}

/**
 * Derivatives by the shift alone, for a scale that stays as it is (Rayleigh).
 * @param law, score, sample - as `scaleSlope`
 * @param shift - a
 */
export function shiftSlope(
  law: "normal" | "weibull",
  score: (x: number) => number,
  shift: number,
  sample: RoundedSample,
): Slope | null {
  return alongOne(scaleDerivatives(law, score, [shift, 0], sample), "one");
}

function foldedDerivatives(mu: number, sigma: number, { values, low, high, counts }: RoundedSample): Derivatives {
  const byMu: Derivatives = { one: 0, two: 0, oneOne: 0, oneTwo: 0, twoTwo: 0 };
  for (let i = 0; i < values.length; i++) {
    const count = counts[i]!;
    const exact = low[i] === high[i];
    const from = Math.max(0, low[i]!);
    const part: Derivatives = { one: 0, two: 0, oneOne: 0, oneTwo: 0, twoTwo: 0 };
    let mass = 0;
    for (const mirror of MIRRORS) {
      // z = (x - mirror mu) / sigma: what lies below 0 is seen from the other side
      const z1 = ((exact ? values[i]! : from) - mirror * mu) / sigma;
      const f1 = normalAt(z1);
      if (exact) {
        mass += f1;
        // of the density f(z) / sigma, by z: f' = -z f, f'' = (z^2 - 1) f
        const rise = -z1 * f1;
        const bend = (z1 * z1 - 1) * f1;
        part.one -= (mirror * rise) / sigma;
        part.two -= rise * z1 + f1;
        part.oneOne += bend / (sigma * sigma);
        part.oneTwo += (mirror * (bend * z1 + 2 * rise)) / sigma;
        part.twoTwo += bend * z1 * z1 + 3 * rise * z1 + f1;
        continue;
      }
      const z2 = (high[i]! - mirror * mu) / sigma;
      const f2 = normalAt(z2);
      mass += normalInterval(z1, z2);
      const [g1, g2] = [-z1 * f1, -z2 * f2];
      part.one -= (mirror * (f2 - f1)) / sigma;
      part.two += g2 - g1;
      part.oneOne += (g2 - g1) / (sigma * sigma);
      part.oneTwo += (mirror * (g2 * z2 - g1 * z1 + f2 - f1)) / sigma;
      part.twoTwo += g2 * z2 * z2 - g1 * z1 * z1 - g2 + g1;
    }
    const one = part.one / mass;
    const two = part.two / mass;
    byMu.one += count * one;
    byMu.two += count * two;
    byMu.oneOne += count * (part.oneOne / mass - one * one);
    byMu.oneTwo += count * (part.oneTwo / mass - one * two);
    byMu.twoTwo += count * (part.twoTwo / mass - two * two);
  }
  return byMu;
}

const MIRRORS = [1, -1] as const;

function slopeFrom({ one, two, oneOne, oneTwo, twoTwo }: Derivatives): Slope | null {
  if (!Number.isFinite(one + two + oneOne + oneTwo + twoTwo)) return null;
  return {
    gradient: [one, two],
    hessian: [
      [oneOne, oneTwo],
      [oneTwo, twoTwo],
    ],
    curvature: Math.max(Math.abs(oneOne), Math.abs(twoTwo), Number.MIN_VALUE),
  };
}

function alongOne(derivatives: Derivatives, parameter: "one" | "two"): Slope | null {
  const bend = derivatives[parameter === "one" ? "oneOne" : "twoTwo"];
  const gradient = derivatives[parameter];
  return Number.isFinite(bend + gradient)
    ? { gradient: [gradient], hessian: [[bend]], curvature: Math.abs(bend) }
    : null;
}

function normalAt(z: number): number {
  return Math.exp(-0.5 * z * z) / SQRT_2PI;
}

/** Density of the logarithm of the cumulative hazard: e^z exp(-e^z). */
function hazardAt(z: number): number {
  return Math.exp(z - Math.exp(z));
}

function hazardInterval(from: number, to: number): number {
  const before = Math.exp(from);
  return Math.exp(-before) * -Math.expm1(before - Math.exp(to));
}
