/**
 * Exponentially scaled modified Bessel function of the first kind, order 0: e^(-x) I0(x).
 * @param x - real >= 0
 * @returns number in (0, 1]
 * Method: positive power series to x = 20, asymptotic series above (smallest term < 1e-17).
 * Source: Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 9.6.12 and 9.7.1
 */
export function scaledBesselI0(x: number): number {
  return x <= 20 ? powerSeries(x, 0) * Math.exp(-x) : asymptoticSeries(x, 0);
}

/**
 * Exponentially scaled modified Bessel function of the first kind, order 1: e^(-x) I1(x).
 * @param x - real >= 0
 * @returns number in [0, 1)
 */
export function scaledBesselI1(x: number): number {
  return x <= 20 ? 0.5 * x * powerSeries(x, 1) * Math.exp(-x) : asymptoticSeries(x, 1);
}

/**
 * Ratio I1(x) / I0(x): the mean resultant length of a von Mises angle, and the gain of the Rice score equation.
 * @param x - real >= 0
 * @returns number in [0, 1)
 * Method: both power series in one loop to x = 20, asymptotic series above.
 * Source: Abramowitz & Stegun 1964, 9.6.10 and 9.7.1
 */
export function besselRatio(x: number): number {
  if (x > 20) return asymptoticSeries(x, 1) / asymptoticSeries(x, 0);
  const quarter = 0.25 * x * x;
  let term = 1;
  let zero = 1;
  let one = 1;
  for (let k = 1; k < 100; k++) {
    term *= quarter / (k * k);
    zero += term;
    one += term / (k + 1);
    if (term < zero * 1e-17) break;
  }
  return (0.5 * x * one) / zero;
}

/** sum of (x^2/4)^k / (k! (k + order)!) */
function powerSeries(x: number, order: 0 | 1): number {
  const quarter = 0.25 * x * x;
  let term = 1;
  let sum = 1;
  for (let k = 1; k < 100; k++) {
    term *= quarter / (k * (k + order));
    sum += term;
    if (term < sum * 1e-17) break;
  }
  return sum;
}

function asymptoticSeries(x: number, order: 0 | 1): number {
  const mu = 4 * order;
  let term = 1;
  let sum = 1;
  for (let k = 1; k < 60; k++) {
    const odd = 2 * k - 1;
    const next = (-term * (mu - odd * odd)) / (8 * k * x);
    if (Math.abs(next) > Math.abs(term)) break;
    term = next;
    sum += term;
    if (Math.abs(term) < 1e-17) break;
  }
  return sum / Math.sqrt(2 * Math.PI * x);
}
