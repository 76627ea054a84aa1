import { CoreError } from "../errors";
import { brentRoot } from "../numerics/brent-root";

/** Lower and upper tail of a continuous distribution on x > 0. */
export interface PositiveTails {
  readonly cdf: (x: number) => number;
  readonly sf: (x: number) => number;
}

/**
 * Quantile of a continuous distribution on x > 0 from its two tails, solved on the logarithm of x and of the smaller
 * tail, so that neither tail loses digits.
 * @param tails - lower and upper tail, each accurate where it is small
 * @param goal - exactly one of `lower` (P(X <= x)) or `upper` (P(X > x)), in (0, 1)
 * @param guess - a point of the right order of magnitude, > 0
 * @returns x > 0, or 0 if the quantile lies below 1e-300
 * @throws CoreError out-of-range if the probability is not in (0, 1), not-converged if no bracket is found
 */
export function positiveQuantile(
  tails: PositiveTails,
  goal: { readonly lower: number } | { readonly upper: number },
  guess: number,
): number {
  const isLower = "lower" in goal;
  const p = isLower ? goal.lower : goal.upper;
  if (!(p > 0 && p < 1)) {
    throw new CoreError("out-of-range", `positiveQuantile: probability must be in (0, 1); got ${p}`, { p });
  }
  // 1 - p is exact enough here: it is taken only for p > 1/2, where it costs no relative digits of x.
  const useLower = isLower === p <= 0.5;
  const small = p <= 0.5 ? p : 1 - p;
  const tail = useLower ? tails.cdf : tails.sf;
  const sign = useLower ? 1 : -1;
  const excess = (y: number): number => {
    const value = tail(Math.exp(y));
    return sign * (value > 0 ? Math.log(value / small) : -1e4);
  };
  let low = Math.log(guess);
  let high = low;
  for (let stride = 0.1; excess(low) > 0; stride *= 1.7) {
    low -= stride;
    if (low < -690) return 0;
  }
  for (let stride = 0.1; excess(high) < 0; stride *= 1.7) {
    high += stride;
    if (high > 700) throw new CoreError("not-converged", `positiveQuantile: no bracket above ${guess}`, { guess, p });
  }
  return low === high ? guess : Math.exp(brentRoot(excess, low, high));
}
