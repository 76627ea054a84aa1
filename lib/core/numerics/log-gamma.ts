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
 * Accuracy: absolute error about 1e-15 (1 + |value|)
 */
export function logGamma(z: number): number {
  if (!(z > 0)) throw new CoreError("out-of-range", `logGamma: z must be > 0; got ${z}`, { z });
  if (z === 1 || z === 2) return 0;
  if (z < 1) return logGamma(z + 1) - Math.log(z);
  return (z - 0.5) * Math.log(z) - z + LN_SQRT_2PI + stirlingError(z);
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
