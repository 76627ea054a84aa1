import { CoreError } from "../errors";
import { type BetaTails, regularisedBeta } from "../numerics/incomplete-beta";
import { logGamma } from "../numerics/log-gamma";
import { betaLogit } from "./beta";
import { normalCdf, normalQuantile, normalSf } from "./normal";

/** From here on the normal distribution has all digits. */
const NORMAL_DEGREES = 1e15;
/** A value whose square overflows: there the tail is a power. */
const POWER_REACH = 1e150;
const LN_SQRT_PI = 0.5723649429247001;

/**
 * Lower tail P(T <= x) of Student's t distribution.
 * @param x - value, may be infinite
 * @param df - degrees of freedom, real > 0, may be infinite (the normal distribution)
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Method: incomplete beta function, the tail evaluated directly.
 * Accuracy: 12 digits on tests/reference/distributions.json and extreme-arguments.json
 */
export function studentTCdf(x: number, df: number): number {
  requireArguments("studentTCdf", x, df);
  if (df >= NORMAL_DEGREES) return normalCdf(x);
  const { outside, inside } = aroundMedian(x, df);
  return x < 0 ? outside / 2 : 0.5 + inside / 2;
}

/**
 * Upper tail P(T > x) of Student's t distribution, evaluated directly.
 * @param x - value, may be infinite
 * @param df - degrees of freedom, real > 0, may be infinite (the normal distribution)
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function studentTSf(x: number, df: number): number {
  requireArguments("studentTSf", x, df);
  if (df >= NORMAL_DEGREES) return normalSf(x);
  const { outside, inside } = aroundMedian(x, df);
  return x > 0 ? outside / 2 : 0.5 + inside / 2;
}

/**
 * Quantile of Student's t distribution: x with P(T <= x) = p.
 * @param p - probability in (0, 1); for an upper tail q use -studentTQuantile(q, df)
 * @param df - degrees of freedom, real > 0, may be infinite (the normal distribution)
 * @returns x; 0 for p = 0.5
 * @throws CoreError out-of-range for another argument
 * Method: logit of the beta quantile of x^2 / (df + x^2): of what lies between x and the median where p is near 1/2, else of
 * the tail. The distribution package has 4 digits near the median.
 * Accuracy: 11 digits on tests/reference/extreme-arguments.json
 */
export function studentTQuantile(p: number, df: number): number {
  requireArguments("studentTQuantile", p, df);
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `studentTQuantile: p must be in (0, 1); got ${p}`, { p });
  if (df >= NORMAL_DEGREES) return normalQuantile(p);
  if (p === 0.5) return 0;
  const tail = p < 0.5 ? p : 1 - p;
  // p - 1/2 is exact from 1/4 on
  const logit =
    tail >= 0.25
      ? betaLogit({ lower: 2 * Math.abs(p - 0.5) }, 0.5, df / 2)
      : betaLogit({ upper: 2 * tail }, 0.5, df / 2);
  const x = Math.sqrt(df) * Math.exp(logit / 2);
  return p < 0.5 ? -x : x;
}

/** P(|T| > |x|) and P(|T| <= |x|). */
function aroundMedian(x: number, df: number): { readonly outside: number; readonly inside: number } {
  const size = Math.abs(x);
  if (size > POWER_REACH) {
    const a = df / 2;
    const logTail = a * (Math.log(df) - 2 * Math.log(size)) + logGamma(a + 0.5) - logGamma(a + 1) - LN_SQRT_PI;
    const outside = size === Infinity ? 0 : Math.min(1, Math.exp(logTail));
    return { outside, inside: 1 - outside };
  }
  const ratio = (size / df) * size;
  const { lower, upper }: BetaTails = regularisedBeta(ratio / (1 + ratio), 1 / (1 + ratio), 0.5, df / 2);
  return { outside: upper, inside: lower };
}

function requireArguments(name: string, x: number, df: number): void {
  if (!(df > 0)) throw new CoreError("out-of-range", `${name}: df must be > 0; got ${df}`, { df });
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `${name}: first argument must be a number; got ${x}`);
}
