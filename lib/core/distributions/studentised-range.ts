import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";
import { integratePeaked } from "../numerics/integrate-peaked";
import { logGamma } from "../numerics/log-gamma";
import { normalRangeCdf, normalRangeSf } from "./normal-range";

/** Number of values in the range and degrees of freedom of the independent standard deviation. */
export interface StudentisedRangeParameters {
  readonly n: number;
  readonly df: number;
}

/**
 * Lower tail P(Q <= q) of the studentised range: range of n normal values over an independent standard deviation.
 * @param q - value >= 0
 * @param parameters - n integer 2..100, df real > 0
 * @returns probability
 * @throws CoreError out-of-range for other arguments
 * Method: integral of the range distribution over the chi distribution on a logarithmic scale.
 * Accuracy: 10 digits against tests/reference/studentised-range.json
 * Source: Copenhaver & Holland 1988, J. Statist. Comput. Simul. 30, 1-15 (the double integral)
 */
export function studentisedRangeCdf(q: number, parameters: StudentisedRangeParameters): number {
  requireParameters("studentisedRangeCdf", q, parameters);
  return q <= 0 ? 0 : tail(q, parameters, normalRangeCdf);
}

/**
 * Upper tail P(Q > q) of the studentised range, evaluated directly.
 * @param q - value >= 0
 * @param parameters - n integer 2..100, df real > 0
 * @returns probability
 * @throws CoreError out-of-range for other arguments
 */
export function studentisedRangeSf(q: number, parameters: StudentisedRangeParameters): number {
  requireParameters("studentisedRangeSf", q, parameters);
  return q <= 0 ? 1 : tail(q, parameters, normalRangeSf);
}

/**
 * Upper quantile of the studentised range: q with P(Q > q) = alpha.
 * @param alpha - upper tail probability in (0, 1)
 * @param parameters - n integer 2..100, df real > 0
 * @returns q > 0
 * @throws CoreError out-of-range for other arguments
 * @example studentisedRangeUpperQuantile(0.05, { n: 3, df: 10 }) // 3.877676
 */
export function studentisedRangeUpperQuantile(alpha: number, parameters: StudentisedRangeParameters): number {
  requireParameters("studentisedRangeUpperQuantile", 1, parameters);
  if (!(alpha > 0 && alpha < 1)) {
    throw new CoreError("out-of-range", `studentisedRangeUpperQuantile: alpha must be in (0, 1); got ${alpha}`, {
      alpha,
    });
  }
  const excess = (y: number): number => Math.log(tail(Math.exp(y), parameters, normalRangeSf) / alpha);
  let high = 1;
  while (excess(high) > 0) {
    high += 1;
    if (high > 200) throw new CoreError("not-converged", "studentisedRangeUpperQuantile: no bracket", { alpha });
  }
  let low = high - 1;
  while (excess(low) < 0) low -= 1;
  return Math.exp(brentRoot(excess, low, high, 1e-13));
}

function tail(q: number, { n, df }: StudentisedRangeParameters, ofRange: (r: number, n: number) => number): number {
  const constant = Math.LN2 + (df / 2) * Math.log(df / 2) - logGamma(df / 2);
  const logF = (v: number): number => {
    const s = Math.exp(v);
    return constant + df * (v - 0.5 * s * s) + Math.log(ofRange(q * s, n));
  };
  // Of a far q what counts lies at small s, where q s is a range of a few.
  return Math.min(1, integratePeaked(logF, Math.min(0, Math.log(2 / q)), Math.min(0.12, 0.4 / Math.sqrt(2 * df))));
}

function requireParameters(name: string, q: number, { n, df }: StudentisedRangeParameters): void {
  if (!Number.isInteger(n) || n < 2 || n > 100) {
    throw new CoreError("out-of-range", `${name}: n must be an integer 2..100; got ${n}`, { n });
  }
  if (!(df > 0 && Number.isFinite(df)))
    throw new CoreError("out-of-range", `${name}: df must be > 0; got ${df}`, { df });
  if (!Number.isFinite(q)) throw new CoreError("out-of-range", `${name}: q must be finite; got ${q}`, { q });
}
