import fisherF from "@stdlib/stats-base-dists-f";
import { CoreError } from "../errors";

/** Degrees of freedom of numerator and denominator. */
export type FisherDegrees = readonly [numerator: number, denominator: number];

/**
 * Lower tail P(F <= x) of Fisher's F distribution.
 * @param x - value
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 10 digits on tests/reference/distributions.json (the distribution package)
 */
export function fisherFCdf(x: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFCdf", degrees);
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `fisherFCdf: x must be a number; got ${x}`);
  return x <= 0 ? 0 : fisherF.cdf(x, d1, d2);
}

/**
 * Upper tail P(F > x) of Fisher's F distribution, evaluated directly through 1 / F.
 * @param x - value
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function fisherFSf(x: number, degrees: FisherDegrees): number {
  const [d1, d2] = requireDegrees("fisherFSf", degrees);
  if (Number.isNaN(x)) throw new CoreError("out-of-range", `fisherFSf: x must be a number; got ${x}`);
  return x <= 0 ? 1 : fisherF.cdf(1 / x, d2, d1);
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
  return fisherF.quantile(p, d1, d2);
}

/**
 * Upper quantile of Fisher's F distribution: x with P(F > x) = q.
 * @param q - upper tail probability in (0, 1)
 * @param degrees - numerator and denominator degrees of freedom, > 0
 * @returns x > 0
 * @throws CoreError out-of-range for another argument
 */
export function fisherFUpperQuantile(q: number, [d1, d2]: FisherDegrees): number {
  return 1 / fisherFQuantile(q, [d2, d1]);
}

function requireDegrees(name: string, degrees: FisherDegrees): FisherDegrees {
  if (!(degrees[0] > 0 && degrees[1] > 0)) {
    throw new CoreError("out-of-range", `${name}: degrees must be > 0; got ${degrees.join(", ")}`, { degrees });
  }
  return degrees;
}
