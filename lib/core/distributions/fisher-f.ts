import { CoreError } from "../errors";
import { regularisedBeta } from "../numerics/incomplete-beta";
import { betaLogit } from "./beta";

/** Degrees of freedom of numerator and denominator. */
export type FisherDegrees = readonly [numerator: number, denominator: number];

/**
 * Lower tail P(F <= x) of Fisher's F distribution.
 * @param x - value
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Method: beta distribution at d1 x / (d1 x + d2); the package's own F loses digits at 1e5 degrees of freedom.
 * Accuracy: 11 digits on tests/reference/distributions.json
 */
export function fisherFCdf(x: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFCdf", degrees);
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `fisherFCdf: x must be a number; got ${x}`);
  return x <= 0 ? 0 : ofRatio(x * d1, d2, d1, d2);
}

/**
 * Upper tail P(F > x) of Fisher's F distribution, evaluated directly by exchanging the two parts.
 * @param x - value
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function fisherFSf(x: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFSf", degrees);
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `fisherFSf: x must be a number; got ${x}`);
  return x <= 0 ? 1 : ofRatio(d2, x * d1, d2, d1);
}

/**
 * Quantile of Fisher's F distribution: x with P(F <= x) = p.
 * @param p - probability in (0, 1)
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function fisherFQuantile(p: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFQuantile", degrees);
  if (!(p > 0 && p < 1)) throw new CoreError("out-of-range", `fisherFQuantile: p must be in (0, 1); got ${p}`, { p });
  return (d2 / d1) * Math.exp(betaLogit({ lower: p }, d1 / 2, d2 / 2));
}

/**
 * Upper quantile of Fisher's F distribution: x with P(F > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function fisherFUpperQuantile(q: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFUpperQuantile", degrees);
  if (!(q > 0 && q < 1))
    throw new CoreError("out-of-range", `fisherFUpperQuantile: q must be in (0, 1); got ${q}`, { q });
  return (d2 / d1) * Math.exp(betaLogit({ upper: q }, d1 / 2, d2 / 2));
}

/** P(beta variate with shapes d1 / 2, d2 / 2 <= a / (a + b)). */
function ofRatio(a: number, b: number, d1: number, d2: number): number {
  if (!(a < Infinity)) return 1;
  if (!(b < Infinity)) return 0;
  return regularisedBeta(a / (a + b), b / (a + b), d1 / 2, d2 / 2).lower;
}

function requireDegrees(name: string, degrees: FisherDegrees): FisherDegrees {
  if (!(degrees[0] > 0 && degrees[1] > 0)) {
    throw new CoreError("out-of-range", `${name}: degrees must be > 0; got ${degrees.join(", ")}`, { degrees });
  }
  return degrees;
}
