import { normalQuantile } from "../../distributions/normal";
import { CoreError } from "../../errors";

/**
 * Standardised value of a skewed quantity: its normal score among the baseline, and beyond the baseline's largest and smallest value
 * the distance to them in standard deviations more. Unlike a plain rank it goes on growing with the value, so that a change keeps its
 * size; unlike a plain standardisation the long side of the distribution does not look like a change.
 *
 * @param sorted - number[n], the baseline ascending, n >= 2, all finite
 * @param sd - standard deviation of the baseline, above 0
 * @returns a function of the value
 * @throws CoreError too-few-values, out-of-range
 * Method: score of the mid-rank (below + ties / 2 + 1 / 2) / (n + 1), linear between the baseline's values
 * Edge cases: ties share their score; values within the baseline's range are interpolated by rank, not by distance
 */
export function extendedScore(sorted: readonly number[], sd: number): (value: number) => number {
  const n = sorted.length;
  if (n < 2) throw new CoreError("too-few-values", `extendedScore: sorted must have at least 2 values; got ${n}`);
  if (!(sd > 0)) throw new CoreError("out-of-range", `extendedScore: sd must be above 0; got ${sd}`);
  const [low, high] = [sorted[0]!, sorted[n - 1]!];
  const scoreOf = (rank: number): number => normalQuantile(rank / (n + 1));
  const topRank = (n + countBelow(sorted, high, false) + 1) / 2;
  const lowRank = (countBelow(sorted, low, true) + 1) / 2;
  return (value) => {
    if (value > high) return scoreOf(topRank) + (value - high) / sd;
    if (value < low) return scoreOf(lowRank) + (value - low) / sd;
    const [below, upTo] = [countBelow(sorted, value, false), countBelow(sorted, value, true)];
    return scoreOf(upTo > below ? (below + upTo + 1) / 2 : below + 0.5);
  };
}

/** Baseline values below a value, or up to it. */
function countBelow(sorted: readonly number[], value: number, inclusive: boolean): number {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    const isBelow = inclusive ? sorted[middle]! <= value : sorted[middle]! < value;
    if (isBelow) low = middle + 1;
    else high = middle;
  }
  return low;
}
