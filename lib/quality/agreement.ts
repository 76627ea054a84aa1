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
 * Adds a value to those that can be the extreme of a disagreeing pair: one that lies further out with no larger an uncertainty
 * stands for all behind it. Nearly always one or two, whatever the number of inspections; from the furthest inwards.
 *
 * @param side - 1 for the largest values, -1 for the smallest
 */
function addToFront<Of>(front: MeasuredFeature<Of>[], one: MeasuredFeature<Of>, side: 1 | -1): void {
  let at = 0;
  for (const other of front) {
    const inwards = side * (other.value - one.value);
    if (inwards < 0 || (inwards === 0 && other.uncertainty > one.uncertainty)) break;
    if (other.uncertainty <= one.uncertainty) return;
    at += 1;
  }
  const behind = front.slice(at).filter(({ uncertainty }) => uncertainty < one.uncertainty);
  front.splice(at, front.length - at, one, ...behind);
}

/**
 * Whether inspections agree on one feature, as they come: two disagree where their values differ by more than the uncertainties of
 * both together, |difference| > sqrt(U1^2 + U2^2). Every pair counts; which pair is the worst is found by the extremes.
 *
 * Source: the idea of the normalised error E_n, ISO 13528 (from memory).
 */
export class Agreement<Of> {
  private count = 0;
  private smallest = Infinity;
  private largest = -Infinity;
  private leastUncertainty = Infinity;
  private readonly lowest: MeasuredFeature<Of>[] = [];
  private readonly highest: MeasuredFeature<Of>[] = [];

  add(feature: MeasuredFeature<Of>): void {
    const { value, uncertainty } = feature;
    this.count += 1;
    if (value < this.smallest) this.smallest = value;
    if (value > this.largest) this.largest = value;
    if (uncertainty < this.leastUncertainty) this.leastUncertainty = uncertainty;
    if (feature.low) addToFront(this.lowest, feature, -1);
    if (feature.high) addToFront(this.highest, feature, 1);
  }

  /** The two inspections that disagree most; null where all agree. */
  disagreement(): Disagreement<Of> | null {
    // Even the furthest two agree by the smallest uncertainty: the usual case.
    if (this.count < 2 || !(this.largest - this.smallest > Math.SQRT2 * this.leastUncertainty)) return null;
    let worst: Disagreement<Of> | null = null;
    let excess = 0;
    for (const lower of this.lowest)
      for (const higher of this.highest) {
        const allowed = Math.hypot(lower.uncertainty, higher.uncertainty);
        const tolerance = EQUALITY_SHARE * Math.max(Math.abs(lower.value), Math.abs(higher.value));
        const beyond = higher.value - lower.value - allowed;
        if (lower.of === higher.of || beyond <= Math.max(excess, tolerance)) continue;
        worst = { lower, higher };
        excess = beyond;
      }
    return worst;
  }
}
