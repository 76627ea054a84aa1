import { CoreError } from "../errors";
import { normalCdf, normalQuantile, normalSf } from "./normal";

/**
 * Johnson distribution: a normal score z = gamma + delta g(x) with
 * g = asinh((x - xi) / lambda) (unbounded), ln((x - xi) / (xi + lambda - x)) (bounded), ln((x - xi) / lambda) (lognormal).
 */
export interface JohnsonParameters {
  readonly system: "unbounded" | "bounded" | "lognormal";
  readonly gamma: number;
  readonly delta: number;
  /** Location, unit of the values. */
  readonly xi: number;
  /** Scale, unit of the values, > 0; 1 for the three-parameter lognormal form z = gamma + delta ln(x - xi). */
  readonly lambda: number;
}

/**
 * Lower tail P(X <= x) of a Johnson distribution.
 * @param x - value
 * @param parameters - delta > 0, lambda > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 * Source: Johnson 1949, Biometrika 36, 149-176
 */
export function johnsonCdf(x: number, parameters: JohnsonParameters): number {
  return normalCdf(score("johnsonCdf", x, parameters));
}

/**
 * Upper tail P(X > x) of a Johnson distribution, evaluated directly.
 * @param x - value
 * @param parameters - delta > 0, lambda > 0
 * @returns probability
 * @throws CoreError out-of-range for other parameters
 */
export function johnsonSf(x: number, parameters: JohnsonParameters): number {
  return normalSf(score("johnsonSf", x, parameters));
}

/**
 * Quantile of a Johnson distribution: x with P(X <= x) = p.
 * @param p - probability in (0, 1)
 * @param parameters - delta > 0, lambda > 0
 * @returns x
 * @throws CoreError out-of-range for other arguments
 */
export function johnsonQuantile(p: number, parameters: JohnsonParameters): number {
  return fromScore(normalQuantile(p), parameters);
}

/**
 * Upper quantile of a Johnson distribution: x with P(X > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param parameters - delta > 0, lambda > 0
 * @returns x
 * @throws CoreError out-of-range for other arguments
 */
export function johnsonUpperQuantile(q: number, parameters: JohnsonParameters): number {
  return fromScore(-normalQuantile(q), parameters);
}

/**
 * Normal score of a value of a Johnson distribution: gamma + delta g(x).
 * @param x - value
 * @param parameters - delta > 0, lambda > 0
 * @returns score; infinite outside the support
 * @throws CoreError out-of-range for other parameters
 */
export function johnsonScore(x: number, parameters: JohnsonParameters): number {
  return score("johnsonScore", x, parameters);
}

/**
 * Value of a Johnson distribution at a normal score.
 * @param z - score
 * @param parameters - delta > 0, lambda > 0
 * @throws CoreError out-of-range for other parameters
 */
export function johnsonValue(z: number, parameters: JohnsonParameters): number {
  return fromScore(z, parameters);
}

/**
 * Slope of the normal score of a Johnson distribution: its density is that of the score times it.
 * @param x - value inside the support
 * @param parameters - delta > 0, lambda > 0
 * @returns d score / d x, 1 / unit; 0 outside the support
 * @throws CoreError out-of-range for other parameters
 */
export function johnsonSlope(x: number, parameters: JohnsonParameters): number {
  const { system, delta, xi, lambda } = requireParameters("johnsonSlope", parameters);
  const u = (x - xi) / lambda;
  if (system === "unbounded") return delta / lambda / Math.hypot(1, u);
  if (u <= 0 || (system === "bounded" && u >= 1)) return 0;
  return delta / lambda / (system === "bounded" ? u * (1 - u) : u);
}

function score(name: string, x: number, parameters: JohnsonParameters): number {
  const { system, gamma, delta, xi, lambda } = requireParameters(name, parameters);
  const u = (x - xi) / lambda;
  if (system === "unbounded") return gamma + delta * Math.asinh(u);
  if (u <= 0) return -Infinity;
  if (system === "lognormal") return gamma + delta * Math.log(u);
  return u >= 1 ? Infinity : gamma + delta * Math.log(u / (1 - u));
}

function fromScore(z: number, parameters: JohnsonParameters): number {
  const { system, gamma, delta, xi, lambda } = requireParameters("johnsonQuantile", parameters);
  const u = (z - gamma) / delta;
  if (system === "unbounded") return xi + lambda * Math.sinh(u);
  return system === "lognormal" ? xi + lambda * Math.exp(u) : xi + lambda / (1 + Math.exp(-u));
}

function requireParameters(name: string, parameters: JohnsonParameters): JohnsonParameters {
  if (!(parameters.delta > 0 && parameters.lambda > 0)) {
    throw new CoreError(
      "out-of-range",
      `${name}: delta and lambda must be > 0; got ${parameters.delta}, ${parameters.lambda}`,
    );
  }
  return parameters;
}
