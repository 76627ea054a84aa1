import { CoreError } from "../errors";

const LN_SQRT_2PI = 0.9189385332046727;
/** Bernoulli terms of Stirling's series: B(2k) / (2k (2k - 1)). */
const STIRLING = [
  1 / 12,
  -1 / 360,
  1 / 1260,
  -1 / 1680,
  1 / 1188,
  -691 / 360360,
  1 / 156,
  -3617 / 122400,
  43867 / 244188,
  -174611 / 125400,
];

/** 1 minus Euler's constant, and Riemann's zeta(k) - 1 from k = 2 on. */
const ONE_LESS_EULER = 0.422784335098467139;
const ZETA_LESS_ONE = [
  0.644934066848226436, 0.202056903159594285, 0.0823232337111381915, 0.0369277551433699263, 0.0173430619844491397,
  0.00834927738192282684, 0.00407735619794433938, 0.00200839282608221442, 0.000994575127818085337,
  0.000494188604119464559, 0.000246086553308048299, 0.000122713347578489147, 0.0000612481350587048293,
  0.0000305882363070204936, 0.0000152822594086518717, 7.63719763789976227e-6, 3.81729326499983986e-6,
  1.90821271655393893e-6, 9.53962033872796113e-7, 4.76932986787806463e-7, 2.3845050272773299e-7, 1.19219925965311073e-7,
  5.96081890512594796e-8, 2.98035035146522802e-8,
];
/** Distance from the roots 1 and 2 within which the series about them has all digits. */
const NEAR_ROOT = 0.2;

/**
 * Error of Stirling's formula: ln Gamma(z + 1) - ((z + 1/2) ln z - z + ln sqrt(2 pi)).
 * @param z - real > 0
 * @returns number > 0, about 1 / (12 z)
 * @throws CoreError out-of-range if z is not > 0
 * Method: asymptotic series from z = 16 on, recurrence below; never a difference of large logarithms.
 * Source: Loader 2000, Fast and Accurate Computation of Binomial Probabilities, section 3
 */
export function stirlingError(z: number): number {
  if (!(z > 0)) throw new CoreError("out-of-range", `stirlingError: z must be > 0; got ${z}`, { z });
  let shift = 0;
  let at = z;
  while (at < 16) {
    shift += (at + 0.5) * Math.log1p(1 / at) - 1;
    at += 1;
  }
  const inverseSquare = 1 / (at * at);
  let sum = 0;
  for (let k = STIRLING.length - 1; k >= 0; k--) sum = sum * inverseSquare + STIRLING[k]!;
  return sum / at + shift;
}

/**
 * Natural logarithm of the gamma function for a positive argument.
 * @param z - real > 0
 * @returns number
 * @throws CoreError out-of-range if z is not > 0
 * Accuracy: absolute error about 1e-15 (1 + |value|); near its roots 1 and 2, where the value is small, 13 digits
 */
export function logGamma(z: number): number {
  if (!(z > 0)) throw new CoreError("out-of-range", `logGamma: z must be > 0; got ${z}`, { z });
  if (Math.abs(z - 1) < NEAR_ROOT) return logGammaOnePlus(z - 1);
  if (Math.abs(z - 2) < NEAR_ROOT) return aboutTwo(z - 2);
  if (z < 1) return logGamma(z + 1) - Math.log(z);
  return (z - 0.5) * Math.log(z) - z + LN_SQRT_2PI + stirlingError(z);
}

/**
 * ln Gamma(1 + u), which keeps its digits however small u is.
 * @param u - real > -1
 * @returns number
 * @throws CoreError out-of-range if u is not > -1
 */
export function logGammaOnePlus(u: number): number {
  return Math.abs(u) < NEAR_ROOT ? aboutTwo(u) - Math.log1p(u) : logGamma(1 + u);
}

/** ln Gamma(2 + u), |u| < 0.2 (Abramowitz & Stegun 1964, 6.1.33). */
function aboutTwo(u: number): number {
  let sum = 0;
  for (let i = ZETA_LESS_ONE.length - 1; i >= 0; i--) sum = ZETA_LESS_ONE[i]! / (i + 2) - u * sum;
  return u * (ONE_LESS_EULER + u * sum);
}

/**
 * Poisson deviance a ln(a / x) + x - a without cancellation when x is near a.
 * @param a - real > 0
 * @param x - real > 0
 * @returns number >= 0
 * Source: Loader 2000, Fast and Accurate Computation of Binomial Probabilities, section 4 (bd0)
 */
export function poissonDeviance(a: number, x: number): number {
  if (Math.abs(a - x) < 0.1 * (a + x)) {
    const v = (a - x) / (a + x);
    let sum = (a - x) * v;
    let term = 2 * a * v;
    const square = v * v;
    for (let j = 1; j < 200; j++) {
      term *= square;
      const next = sum + term / (2 * j + 1);
      if (next === sum) break;
      sum = next;
    }
    return sum;
  }
  return a * Math.log(a / x) + x - a;
}

/**
 * x^a e^(-x) / Gamma(a + 1): the Poisson probability of a real count a, with full relative accuracy for large a.
 * @param a - real > 0
 * @param x - real > 0
 * @returns number >= 0
 */
export function poissonKernel(a: number, x: number): number {
  if (a < 0.5) return Math.exp(a * Math.log(x) - x - logGamma(a + 1));
  return Math.exp(-stirlingError(a) - poissonDeviance(a, x)) / Math.sqrt(2 * Math.PI * a);
}

/**
 * Binomial probability C(n, k) p^k q^(n - k), with full relative accuracy for large n.
 * @param k - integer 0..n
 * @param n - integer >= 0
 * @param p - in [0, 1]
 * @param q - 1 - p, given apart so that neither loses digits near its end
 * @returns number >= 0
 * Source: Loader 2000, Fast and Accurate Computation of Binomial Probabilities, section 5
 */
export function binomialKernel(k: number, n: number, p: number, q: number): number {
  if (p === 0) return k === 0 ? 1 : 0;
  if (q === 0) return k === n ? 1 : 0;
  if (k === 0) return Math.exp(n * (p < q ? Math.log1p(-p) : Math.log(q)));
  if (k === n) return Math.exp(n * (q < p ? Math.log1p(-q) : Math.log(p)));
  const stirling = stirlingError(n) - stirlingError(k) - stirlingError(n - k);
  // Both means from the smaller probability: p and q themselves do not quite add up to 1.
  const [mean, rest] = p < q ? [n * p, n - n * p] : [n - n * q, n * q];
  const deviance = poissonDeviance(k, mean) + poissonDeviance(n - k, rest);
  return Math.exp(stirling - deviance) * Math.sqrt(n / (2 * Math.PI * k * (n - k)));
}
