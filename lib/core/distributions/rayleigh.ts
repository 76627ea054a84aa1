import { CoreError } from "../errors";

/**
 * Lower tail P(X <= x) of the Rayleigh distribution (length of a centred isotropic normal vector).
 * Formula: 1 - exp(-x^2 / (2 sigma^2))
 * @param x - value, unit of sigma
 * @param sigma - standard deviation of each component, > 0
 * @returns probability
 * @throws CoreError out-of-range if sigma is not > 0
 * Method: expm1; the distribution package keeps 7 digits only in the lower tail.
 */
export function rayleighCdf(x: number, sigma: number): number {
  requireSigma("rayleighCdf", sigma);
  return x <= 0 ? 0 : -Math.expm1(-0.5 * (x / sigma) ** 2);
}

/**
 * Upper tail P(X > x) of the Rayleigh distribution, evaluated directly.
 * @param x - value
 * @param sigma - > 0
 * @returns probability
 * @throws CoreError out-of-range if sigma is not > 0
 */
export function rayleighSf(x: number, sigma: number): number {
  requireSigma("rayleighSf", sigma);
  return x <= 0 ? 1 : Math.exp(-0.5 * (x / sigma) ** 2);
}

/**
 * Quantile of the Rayleigh distribution: x with P(X <= x) = p.
 * Formula: sigma sqrt(-2 ln(1 - p))
 * @param p - probability in [0, 1)
 * @param sigma - > 0
 * @returns x >= 0
 * @throws CoreError out-of-range for another argument
 */
export function rayleighQuantile(p: number, sigma: number): number {
  requireSigma("rayleighQuantile", sigma);
  if (!(p >= 0 && p < 1)) throw new CoreError("out-of-range", `rayleighQuantile: p must be in [0, 1); got ${p}`, { p });
  return sigma * Math.sqrt(-2 * Math.log1p(-p));
}

/**
 * Upper quantile of the Rayleigh distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1]
 * @param sigma - > 0
 * @returns x >= 0
 * @throws CoreError out-of-range for another argument
 */
export function rayleighUpperQuantile(q: number, sigma: number): number {
  requireSigma("rayleighUpperQuantile", sigma);
  if (!(q > 0 && q <= 1)) {
    throw new CoreError("out-of-range", `rayleighUpperQuantile: q must be in (0, 1]; got ${q}`, { q });
  }
  return sigma * Math.sqrt(-2 * Math.log(q));
}

function requireSigma(name: string, sigma: number): void {
  if (!(sigma > 0)) throw new CoreError("out-of-range", `${name}: sigma must be > 0; got ${sigma}`, { sigma });
}
