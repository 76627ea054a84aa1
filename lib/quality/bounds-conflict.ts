import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { JudgedCharacteristic } from "./judge-frame";

/** One inspection's result on a characteristic, with what it measured. */
export type Bounded = { readonly measurement: FrameMeasurement; readonly judged: JudgedCharacteristic };

/** Two results that cannot both be right: the first is at least so much, the second at most so much. */
export type BoundsConflict<One> = {
  readonly least: One;
  readonly most: One;
  readonly atLeast: number;
  readonly atMost: number;
};

type Interval = readonly [least: number, most: number];

/** What a result leaves possible of the smallest and of the largest size, or of the one value; null where it says nothing. */
function intervals({ measurement, judged }: Bounded): readonly Interval[] | null {
  const { name, value, bounds, verdict, smallest, largest } = judged;
  if (verdict === "not measured") return null;
  if (bounds !== undefined && value === null) {
    const { least, most, smallestMost = null, largestLeast = null } = bounds;
    const low: Interval = [least ?? -Infinity, (name === "bore" ? smallestMost : most) ?? Infinity];
    return name === "bore" ? [low, [largestLeast ?? least ?? -Infinity, most ?? Infinity]] : [low];
  }
  if (value === null) return null;
  if (smallest !== undefined && largest !== undefined)
    return [
      [smallest, smallest],
      [largest, largest],
    ];
  // A bar bounds the worse seat from below, each seat from above.
  const tilts = [measurement.features["ds.tilt"].value, measurement.features["nds.tilt"].value];
  const worse = name === "tilt" ? Math.max(value, ...tilts.filter((tilt) => tilt !== null)) : value;
  return [[value, worse]];
}

/**
 * The first two results of one characteristic that contradict each other beyond both U, of which at least one was felt: what one
 * inspection felt against what another one read or felt.
 *
 * @param results - of one characteristic and seat
 */
export function boundsConflict<One extends Bounded>(results: readonly One[]): BoundsConflict<One> | null {
  // Values against values are another question: many inspections by readings need no look at every pair.
  if (results.every(({ judged }) => judged.value !== null)) return null;
  for (const a of results)
    for (const b of results) {
      if (a === b || (a.judged.value !== null && b.judged.value !== null)) continue;
      const [ofA, ofB] = [intervals(a), intervals(b)];
      if (ofA === null || ofB === null) continue;
      const together = a.judged.uncertainty + b.judged.uncertainty;
      for (let place = 0; place < Math.min(ofA.length, ofB.length); place += 1) {
        const atLeast = ofA[place]?.[0] ?? -Infinity;
        const atMost = ofB[place]?.[1] ?? Infinity;
        if (atLeast - atMost > together) return { least: a, most: b, atLeast, atMost };
      }
    }
  return null;
}
