import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";
import { integratePeaked } from "../numerics/integrate-peaked";
import { logGamma } from "../numerics/log-gamma";
import { gammaCdf, gammaSf } from "./gamma";
import { normalCdf, normalQuantile } from "./normal";

const LN_SQRT_2PI = 0.9189385332046727;
/** Quotient of t and the root of 2 df from which on the integral is taken over the normal variate. */
const STEEP = 100;
/** The chi tail has a corner where the variate is -delta: with this delta and t on its side it weighs 1e-18. */
const CORNER_OUT_OF_SIGHT = 9;
/**
 * Step of the rule where degrees of freedom and noncentrality are small: the integrand is analytic to a quarter of pi from the
 * real line, which leaves an error of 1e-15.
 */
const WIDEST_STEP = 0.12;

/** Degrees of freedom and noncentrality. */
export interface NoncentralTParameters {
  readonly df: number;
  readonly delta: number;
}

/**
 * Lower tail P(T <= t) of the noncentral t distribution: (Z + delta) / sqrt(chi^2(df) / df).
 * @param t - value
 * @param parameters - df real > 0, delta real
 * @returns probability
 * @throws CoreError out-of-range for other arguments, not-converged below about 0.002 degrees of freedom
 * Method: integral of the normal tail over the chi distribution on a logarithmic scale, trapezoidal; positive terms only,
 * so both tails keep their digits.
 * Accuracy: 11 digits on tests/reference/distributions.json and extreme-arguments.json, from 0.2 degrees of freedom on
 * Source: Johnson, Kotz & Balakrishnan 1995, Continuous Univariate Distributions 2, 2nd ed., eq. (31.1)
 */
export function noncentralTCdf(t: number, parameters: NoncentralTParameters): number {
  requireParameters("noncentralTCdf", t, parameters);
  return tail(t, parameters, 1);
}

/**
 * Upper tail P(T > t) of the noncentral t distribution, evaluated directly.
 * @param t - value
 * @param parameters - df real > 0, delta real
 * @returns probability
 * @throws CoreError out-of-range for other arguments
 */
export function noncentralTSf(t: number, parameters: NoncentralTParameters): number {
  requireParameters("noncentralTSf", t, parameters);
  return tail(t, parameters, -1);
}

/**
 * Quantile of the noncentral t distribution: t with P(T <= t) = p.
 * @param p - probability in (0, 1)
 * @param parameters - df real > 0, delta real
 * @returns t
 * @throws CoreError out-of-range for other arguments
 */
export function noncentralTQuantile(p: number, parameters: NoncentralTParameters): number {
  const { df, delta } = requireParameters("noncentralTQuantile", p, parameters);
  if (!(p > 0 && p < 1))
    throw new CoreError("out-of-range", `noncentralTQuantile: p must be in (0, 1); got ${p}`, { p });
  const excess = (t: number): number =>
    p <= 0.5 ? Math.log(tail(t, parameters, 1) / p) : -Math.log(tail(t, parameters, -1) / (1 - p));
  const spread = Math.sqrt(1 + (delta * delta) / (2 * df));
  const [low, high] = bracket(excess, delta + normalQuantile(p) * spread, spread);
  return low === high ? low : brentRoot(excess, low, high);
}

/**
 * Noncentrality delta that puts a lower tail p at an observed t: the confidence bound of a noncentrality.
 * @param t - observed value
 * @param df - degrees of freedom, > 0
 * @param p - P(T <= t) wanted, in (0, 1)
 * @returns delta
 * @throws CoreError out-of-range for other arguments
 */
export function noncentralityFromT(t: number, df: number, p: number): number {
  requireParameters("noncentralityFromT", t, { df, delta: 0 });
  if (!(p > 0 && p < 1))
    throw new CoreError("out-of-range", `noncentralityFromT: p must be in (0, 1); got ${p}`, { p });
  const excess = (delta: number): number =>
    p <= 0.5 ? -Math.log(tail(t, { df, delta }, 1) / p) : Math.log(tail(t, { df, delta }, -1) / (1 - p));
  const spread = Math.sqrt(1 + (t * t) / (2 * df));
  const [low, high] = bracket(excess, t - normalQuantile(p) * spread, spread);
  return low === high ? low : brentRoot(excess, low, high);
}

function bracket(f: (x: number) => number, start: number, scale: number): readonly [number, number] {
  let low = start;
  let high = start;
  let stride = 0.2 * scale;
  for (let i = 0; f(low) > 0; i++, stride *= 1.6) {
    if (i > 120) throw new CoreError("not-converged", `noncentralT: no lower bracket from ${start}`, { start });
    low -= stride;
  }
  stride = 0.2 * scale;
  for (let i = 0; f(high) < 0; i++, stride *= 1.6) {
    if (i > 120) throw new CoreError("not-converged", `noncentralT: no upper bracket from ${start}`, { start });
    high += stride;
  }
  return [low, high];
}

/** P(side * (T - t) <= 0): integral over v = ln(s) of the chi density and the normal tail. */
function tail(t: number, { df, delta }: NoncentralTParameters, side: 1 | -1): number {
  if (Math.abs(t) > STEEP * Math.sqrt(2 * df) && Math.abs(delta) > CORNER_OUT_OF_SIGHT && t * delta > 0)
    return tailOverNormal(t, { df, delta }, side);
  const constant = Math.LN2 + (df / 2) * Math.log(df / 2) - logGamma(df / 2);
  const logF = (v: number): number => {
    const s = Math.exp(v);
    return constant + df * (v - 0.5 * s * s) + logNormalCdf(side * (t * s - delta));
  };
  const width = Math.sqrt(2 * df + delta * delta + 1);
  // Of a far t the small tail comes from small s: there t s is about delta plus the root of df.
  const start = Math.min(0, Math.log(width / Math.max(Math.abs(t), Number.MIN_VALUE)));
  return Math.min(1, integratePeaked(logF, start, Math.min(WIDEST_STEP, 0.35 / width)));
}

/**
 * The same as an integral over the normal variate of the chi tail. Far out the normal tail is so steep in s that the other
 * integral would need endless steps, while this one only gets smoother.
 */
function tailOverNormal(t: number, { df, delta }: NoncentralTParameters, side: 1 | -1): number {
  const upper = side > 0 === t > 0;
  const logF = (z: number): number => {
    const ratio = (z + delta) / t;
    if (ratio <= 0) return upper ? -0.5 * z * z - LN_SQRT_2PI : -Infinity;
    const half = (df / 2) * ratio * ratio;
    return -0.5 * z * z - LN_SQRT_2PI + Math.log(upper ? gammaSf(half, df / 2) : gammaCdf(half, df / 2));
  };
  // There the standard deviation is 1, the middle of its distribution; beyond 38 the normal density underflows.
  const middle = Math.min(38, Math.max(-38, t - delta));
  return logF(middle) === -Infinity ? 0 : Math.min(1, integratePeaked(logF, middle, 0.3));
}

function logNormalCdf(z: number): number {
  if (z > -35) return Math.log(normalCdf(z));
  const r = 1 / (z * z);
  return -0.5 * z * z - Math.log(-z) - LN_SQRT_2PI + Math.log1p(-r * (1 - r * (3 - r * (15 - 105 * r))));
}

function requireParameters(name: string, t: number, parameters: NoncentralTParameters): NoncentralTParameters {
  const { df, delta } = parameters;
  if (!(df > 0 && Number.isFinite(df)) || !Number.isFinite(delta)) {
    throw new CoreError("out-of-range", `${name}: df must be > 0 and delta finite; got ${df}, ${delta}`, { df, delta });
  }
  if (!Number.isFinite(t)) throw new CoreError("out-of-range", `${name}: first argument must be finite; got ${t}`);
  return parameters;
}
