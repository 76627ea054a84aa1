import { scaledBesselI0 } from "../numerics/bessel-i";
import { logGamma } from "../numerics/log-gamma";
import { normalDensity } from "./normal";

/** Terms below this share of the largest are left out. */
const LEAST_TERM = 1e-17;

/**
 * Density of the length of a normal vector of p components with unit covariance, as a function of the length and of the
 * length of its mean (noncentral chi).
 * Formula: r^(p - 1) 2^(1 - p / 2) exp(-(r^2 + a^2) / 2) sum_k (r a / 2)^(2 k) / (k! Gamma(k + p / 2)).
 *
 * @param p - components, integer >= 1
 * @returns density (r, a), r >= 0 and a >= 0, 1 / unit
 * Method: closed form for p = 1, scaled Bessel function for p = 2, else the series from its largest term outwards: positive
 *   terms only.
 * Source: Johnson, Kotz and Balakrishnan 1995, Continuous Univariate Distributions 2, 2nd ed., 29.8
 */
export function noncentralChiDensity(p: number): (r: number, a: number) => number {
  if (p === 1) return (r, a) => normalDensity(r - a) + normalDensity(r + a);
  if (p === 2) return (r, a) => r * Math.exp(-0.5 * (r - a) ** 2) * scaledBesselI0(r * a);
  return (r, a) => (r > 0 ? seriesDensity(p, r, a) : 0);
}

function seriesDensity(p: number, r: number, a: number): number {
  const half = (r * a) / 2;
  const square = half * half;
  // Largest term where k (k + p / 2 - 1) passes the square.
  const shift = p / 2 - 1;
  const peak = Math.max(0, Math.floor((Math.hypot(shift, 2 * half) - shift) / 2));
  let sum = 1;
  for (let k = peak + 1, term = 1; ; k++) {
    term *= square / (k * (k + shift));
    sum += term;
    if (term < LEAST_TERM * sum) break;
  }
  for (let k = peak, term = 1; k >= 1; k--) {
    term *= (k * (k + shift)) / square;
    sum += term;
    if (term < LEAST_TERM * sum) break;
  }
  const logPeak = (peak > 0 ? 2 * peak * Math.log(half) : 0) - logGamma(peak + 1) - logGamma(peak + p / 2);
  return sum * Math.exp(logPeak + (p - 1) * Math.log(r) - shift * Math.LN2 - (r * r + a * a) / 2);
}
