import { CoreError } from "../errors";
import { normalCdf, normalInterval, normalSf } from "./normal";
import { positiveQuantile } from "./positive-quantile";

/** Mean and standard deviation of the normal value whose absolute value is taken. */
export interface FoldedNormalParameters {
  readonly mu: number;
  readonly sigma: number;
}

/**
 * Lower tail P(|Z| <= x) of the folded normal distribution, Z normal with mean mu and standard deviation sigma.
 * Formula: Phi((x - mu)/sigma) - Phi((-x - mu)/sigma)
 * @param x - value, unit of sigma
 * @param parameters - mu real, sigma > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 * Source: Leone, Nelson & Nottingham 1961, Technometrics 3(4), 543-550
 */
export function foldedNormalCdf(x: number, parameters: FoldedNormalParameters): number {
  const { mu, sigma } = requireParameters("foldedNormalCdf", x, parameters);
  if (x <= 0) return 0;
  const half = x / sigma;
  const centre = Math.abs(mu) / sigma;
  // Near 0 the difference of two tails cancels; the density is smooth there: fifth-order expansion about the centre.
  if (half < 1e-3) return narrowInterval(centre, half);
  return normalInterval(centre - half, centre + half);
}

/**
 * Upper tail P(|Z| > x) of the folded normal distribution, evaluated directly as the sum of two tails.
 * @param x - value, unit of sigma
 * @param parameters - mu real, sigma > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 */
export function foldedNormalSf(x: number, parameters: FoldedNormalParameters): number {
  const { mu, sigma } = requireParameters("foldedNormalSf", x, parameters);
  if (x <= 0) return 1;
  return Math.min(1, normalSf((x - mu) / sigma) + normalCdf((-x - mu) / sigma));
}

/**
 * Quantile of the folded normal distribution: x with P(|Z| <= x) = p.
 * @param p - probability in (0, 1)
 * @param parameters - mu real, sigma > 0
 * @returns x > 0
 * @throws CoreError out-of-range for other arguments
 */
export function foldedNormalQuantile(p: number, parameters: FoldedNormalParameters): number {
  return solve("foldedNormalQuantile", { lower: p }, parameters);
}

/**
 * Upper quantile of the folded normal distribution: x with P(|Z| > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param parameters - mu real, sigma > 0
 * @returns x > 0
 * @throws CoreError out-of-range for other arguments
 */
export function foldedNormalUpperQuantile(q: number, parameters: FoldedNormalParameters): number {
  return solve("foldedNormalUpperQuantile", { upper: q }, parameters);
}

function solve(name: string, goal: { lower: number } | { upper: number }, parameters: FoldedNormalParameters): number {
  const { mu, sigma } = requireParameters(name, 1, parameters);
  const standard = { mu: Math.abs(mu) / sigma, sigma: 1 };
  const tails = {
    cdf: (x: number) => foldedNormalCdf(x, standard),
    sf: (x: number) => foldedNormalSf(x, standard),
  };
  return sigma * positiveQuantile(tails, goal, Math.hypot(standard.mu, 0.7));
}

/** integral of phi over [c - h, c + h] = 2 h phi(c) (1 + h^2 (c^2-1)/6 + h^4 (c^4-6c^2+3)/120 + ...), h < 1e-3. */
function narrowInterval(c: number, h: number): number {
  const c2 = c * c;
  const density = 0.3989422804014327 * Math.exp(-0.5 * c2);
  const h2 = h * h;
  return 2 * h * density * (1 + (h2 * (c2 - 1)) / 6 + (h2 * h2 * (c2 * c2 - 6 * c2 + 3)) / 120);
}

function requireParameters(name: string, x: number, parameters: FoldedNormalParameters): FoldedNormalParameters {
  const { mu, sigma } = parameters;
  if (!(Number.isFinite(mu) && sigma > 0 && Number.isFinite(sigma))) {
    throw new CoreError("out-of-range", `${name}: mu must be finite and sigma > 0; got ${mu}, ${sigma}`, { mu, sigma });
  }
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `${name}: x must be a number; got ${x}`);
  return parameters;
}
