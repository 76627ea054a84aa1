import { EQUALITY_SHARE } from "./conformity";

/** One value of a feature by one inspection. */
export type MeasuredFeature<Of> = {
  readonly of: Of;
  readonly value: number;
  /** U (k = 2), in the unit of the value. */
  readonly uncertainty: number;
  /**
   * False where the readings are incomplete and could only have shown a smaller value ("low") or a larger one ("high") still:
   * then it disagrees on the other side only. True where it may be compared on both.
   */
  readonly low: boolean;
  readonly high: boolean;
};

/** Two inspections that disagree on a feature, smaller value first. */
export type Disagreement<Of> = { readonly lower: MeasuredFeature<Of>; readonly higher: MeasuredFeature<Of> };

/**
 * Those that can be the extreme of a disagreeing pair: a value that lies further out with no larger an uncertainty stands for
 * all behind it. Nearly always one or two, whatever the number of inspections.
 *
 * @param side - 1 for the largest values, -1 for the smallest
 */
function front<Of>(features: readonly MeasuredFeature<Of>[], side: 1 | -1): MeasuredFeature<Of>[] {
  const sorted = features
    .filter((one) => (side === 1 ? one.high : one.low))
    .sort((a, b) => side * (b.value - a.value) || a.uncertainty - b.uncertainty);
  let least = Infinity;
  return sorted.filter(({ uncertainty }) => {
    if (uncertainty >= least) return false;
    least = uncertainty;
    return true;
  });
}

/** True where even the furthest two agree by the smallest uncertainty: the usual case, found in one pass. */
function allAgree<Of>(features: readonly MeasuredFeature<Of>[]): boolean {
  let smallest = Infinity;
  let largest = -Infinity;
  let least = Infinity;
  for (const { value, uncertainty } of features) {
    if (value < smallest) smallest = value;
    if (value > largest) largest = value;
    if (uncertainty < least) least = uncertainty;
  }
  return !(largest - smallest > Math.SQRT2 * least);
}

/**
 * The two inspections that disagree most on one feature: their values differ by more than the uncertainties of both together,
 * |difference| > sqrt(U1^2 + U2^2). Every pair counts; which pair is the worst is found by the extremes.
 *
 * @returns null where all agree
 * Source: the idea of the normalised error E_n, ISO 13528 (from memory).
 */
export function findDisagreement<Of>(features: readonly MeasuredFeature<Of>[]): Disagreement<Of> | null {
  if (features.length < 2 || allAgree(features)) return null;
  let worst: Disagreement<Of> | null = null;
  let excess = 0;
  for (const lower of front(features, -1))
    for (const higher of front(features, 1)) {
      const allowed = Math.hypot(lower.uncertainty, higher.uncertainty);
      const tolerance = EQUALITY_SHARE * Math.max(Math.abs(lower.value), Math.abs(higher.value));
      const beyond = higher.value - lower.value - allowed;
      if (lower.of === higher.of || beyond <= Math.max(excess, tolerance)) continue;
      worst = { lower, higher };
      excess = beyond;
    }
  return worst;
}
