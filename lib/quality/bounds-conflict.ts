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

type Entry<One> = { readonly one: One; readonly place: number; readonly intervals: readonly Interval[] };

/** What `least` says at least against what `most` says at most: beyond both U. */
function contradiction<One extends Bounded>(least: Entry<One>, most: Entry<One>): BoundsConflict<One> | null {
  const together = least.one.judged.uncertainty + most.one.judged.uncertainty;
  for (const [place, [atLeast]] of least.intervals.entries()) {
    const atMost = most.intervals[place]?.[1];
    if (atMost !== undefined && atLeast - atMost > together)
      return { least: least.one, most: most.one, atLeast, atMost };
  }
  return null;
}

/**
 * Results of one characteristic and seat as they come, of which two contradict each other beyond both U, and at least one was
 * felt: what one inspection felt against what another one read or felt. Values against values are another question.
 */
export class BoundsComparison<One extends Bounded> {
  private readonly all: Entry<One>[] = [];
  private readonly felt: Entry<One>[] = [];
  private first: { readonly place: number; readonly conflict: BoundsConflict<One> } | null = null;

  add(one: One): void {
    const known = intervals(one);
    if (known === null) return;
    const isRead = one.judged.value !== null;
    const added: Entry<One> = { one, place: this.all.length, intervals: known };
    const others = isRead ? this.felt : this.all;
    for (const other of others) {
      if (this.first !== null && other.place >= this.first.place) break;
      const conflict = contradiction(other, added);
      if (conflict !== null) this.first = { place: other.place, conflict };
    }
    for (const other of others) {
      if (this.first !== null) break;
      const conflict = contradiction(added, other);
      if (conflict !== null) this.first = { place: added.place, conflict };
    }
    this.all.push(added);
    if (!isRead) this.felt.push(added);
  }

  /** The first two in the order in which they came; null where none contradict each other. */
  conflict(): BoundsConflict<One> | null {
    return this.first?.conflict ?? null;
  }
}
