import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { Agreement, type Disagreement, type MeasuredFeature } from "./agreement";
import { BoundsComparison, type BoundsConflict } from "./bounds-conflict";
import { guardBand, marginToLimits } from "./conformity";
import type { InspectionEvidence } from "./inspection-evidence";
import { type JudgedCharacteristic, verdictOf, worstPlace } from "./judge-frame";
import type { ComparedOn, DisagreementReason, JudgingReason, ToldValue } from "./judging-reason";
import type { LackingReadings } from "./plan-coverage";

/** One inspection's result on one characteristic and seat. */
export type Contribution = {
  readonly inspection: InspectionEvidence;
  readonly measurement: FrameMeasurement;
  readonly judged: JudgedCharacteristic;
  /** What the batch's plan asks for and this inspection's plan does not; [] where nothing. */
  readonly lacking: readonly LackingReadings[];
};

/**
 * Doubts that no further reading answers: a gauge that was found out, a plug or a bar that rejects or contradicts. They stand
 * until that inspection is withdrawn or somebody decides; trying again until the bar passes is no way out.
 */
const STANDING: ReadonlySet<string> = new Set(["zero-drifted", "felt-contradicts", "felt-reject"]);

/** A value that some readings are missing from: of two extremes it bounds the true one from one side only. */
const isPartial = ({ judged }: Contribution): boolean => judged.verdict === "not measured" && judged.value !== null;
const isMeasured = ({ judged }: Contribution): boolean => judged.verdict !== "not measured";

/** Share by which the uncertainty of a value is widened where some of its readings are missing (common practice, no source). */
const PARTIAL_FACTOR = 2;

/** On what inspections of a characteristic are compared. */
type Compared = {
  readonly on: ComparedOn;
  readonly of: (one: Contribution) => number | null | undefined;
  /** On which side readings that are missing could only have shown more. */
  readonly side?: "low" | "high";
};

const EXTREMES: readonly Compared[] = [
  { on: "smallest", of: ({ judged }) => judged.smallest, side: "low" },
  { on: "largest", of: ({ judged }) => judged.largest, side: "high" },
];
const VALUE: readonly Compared[] = [{ on: "value", of: ({ judged }) => judged.value }];
const sweptBy = ({ measurement, judged }: Contribution) => measurement.swept.find((one) => one.swept === judged.seat);
const twice = (um: number | null | undefined) => (um === null || um === undefined ? um : 2 * um);
/** A zone is twice the distance of the axis: two equal zones to opposite sides are not the same shell. */
const ZONE: readonly Compared[] = [
  ...VALUE,
  { on: "offset-12", of: (one) => twice(sweptBy(one)?.offset12Um) },
  { on: "offset-3", of: (one) => twice(sweptBy(one)?.offset3Um) },
];

function comparedBy({ name, smallest }: JudgedCharacteristic): readonly Compared[] {
  if (smallest !== undefined) return EXTREMES;
  return name === "coaxiality" ? ZONE : VALUE;
}

type Found = { readonly on: ComparedOn; readonly pair: Disagreement<Contribution> };

/** Whether inspections agree on a characteristic: both extremes, or the value, and the offset behind a zone. */
class Agreements {
  private compared: readonly { readonly by: Compared; readonly agreement: Agreement<Contribution> }[] | null = null;

  add(one: Contribution): void {
    if (one.judged.value === null) return;
    this.compared ??= comparedBy(one.judged).map((by) => ({ by, agreement: new Agreement() }));
    for (const { by, agreement } of this.compared) {
      const value = by.of(one);
      if (value === null || value === undefined) continue;
      const partial = isPartial(one);
      const uncertainty = one.judged.uncertainty * (partial && by.side === undefined ? PARTIAL_FACTOR : 1);
      agreement.add({
        of: one,
        value,
        uncertainty,
        low: !partial || by.side !== "high",
        high: !partial || by.side !== "low",
      });
    }
  }

  disagreement(): Found | null {
    for (const { by, agreement } of this.compared ?? []) {
      const pair = agreement.disagreement();
      if (pair !== null) return { on: by.on, pair };
    }
    return null;
  }
}

function toldBy({ inspection, judged }: Contribution, value: number, uncertainty: number): ToldValue {
  return { by: inspection.label, value, unit: judged.unit, uncertainty };
}

function disagreementReason({ on, pair: { lower, higher } }: Found): DisagreementReason {
  const told = ({ of, value, uncertainty }: MeasuredFeature<Contribution>) => toldBy(of, value, uncertainty);
  return { code: "disagreement", on, lower: told(lower), higher: told(higher) };
}

/** Distance of what was judged to its limits; a verdict without a value, as off the scale, is the furthest beyond. */
function marginOf({ name, value, lower, upper }: JudgedCharacteristic): number {
  if (value === null) return -Infinity;
  return marginToLimits(name === "taper" ? Math.abs(value) : value, lower, upper);
}

/** The one nearer to its limits; of two alike the first. */
function worseOf(worst: Contribution | undefined, one: Contribution): Contribution {
  return worst === undefined || marginOf(one.judged) < marginOf(worst.judged) ? one : worst;
}

function worstOf(contributions: readonly Contribution[]): Contribution | undefined {
  return contributions.reduce<Contribution | undefined>(worseOf, undefined);
}

/** Sum of values as they come, and their mean. */
class Mean {
  private sum = 0;
  private count = 0;

  add(value: number): void {
    this.sum += value;
    this.count += 1;
  }

  value(): number {
    return this.sum / this.count;
  }
}

const hasExtremes = ({ smallest, largest }: JudgedCharacteristic): boolean =>
  smallest !== undefined && largest !== undefined;

/**
 * Mean of each feature over inspections that agree. Its U is the mean of theirs: what they have in common (ring, gauge, fixture,
 * temperature) does not average away, and for errors that go wholly together this is exact, for all others too large.
 */
class Averaging {
  private readonly valued: Contribution[] = [];
  private worst: Contribution | undefined;
  private allHaveExtremes = true;
  private readonly smallest = new Mean();
  private readonly largest = new Mean();
  private readonly single = new Mean();
  private readonly uncertainty = new Mean();

  add(one: Contribution): void {
    const { judged } = one;
    if (judged.value === null) return;
    this.valued.push(one);
    this.worst = worseOf(this.worst, one);
    this.allHaveExtremes &&= hasExtremes(judged);
    this.smallest.add(judged.smallest ?? 0);
    this.largest.add(judged.largest ?? 0);
    this.single.add(judged.value);
    this.uncertainty.add(judged.uncertainty);
  }

  /** Null where nobody has a value. */
  averaged(drawing: ShellDrawing): JudgedCharacteristic | null {
    if (this.worst === undefined) return null;
    const { judged } = this.worst;
    if (this.valued.length === 1) return judged;
    const values = this.means(judged);
    const value = values[worstPlace(values, judged)] ?? 0;
    const uncertainty = this.uncertainty.value();
    const { reason: _reason, code: _code, alwaysHolds: _alwaysHolds, ...rest } = judged;
    return {
      ...rest,
      value,
      uncertainty,
      verdict: verdictOf(judged.name, value, judged, guardBand(drawing.decisionRule, uncertainty)),
      ...(hasExtremes(judged) ? { smallest: values[0] ?? 0, largest: values[1] ?? 0 } : {}),
    };
  }

  private means(judged: JudgedCharacteristic): readonly number[] {
    if (!hasExtremes(judged)) return [this.single.value()];
    if (this.allHaveExtremes) return [this.smallest.value(), this.largest.value()];
    // Who has one value only counts as the worst one's extreme.
    const [smallest, largest] = [new Mean(), new Mean()];
    for (const one of this.valued) {
      smallest.add(one.judged.smallest ?? judged.smallest ?? 0);
      largest.add(one.judged.largest ?? judged.largest ?? 0);
    }
    return [smallest.value(), largest.value()];
  }
}

export const notMeasured = (judged: JudgedCharacteristic, reason: JudgingReason): JudgedCharacteristic => {
  const { alwaysHolds: _alwaysHolds, ...rest } = judged;
  return { ...rest, verdict: "not measured", reason, code: "lacking" };
};

/** Inspections that have no doubt of their own. */
const isProven = ({ judged }: Contribution): boolean =>
  judged.verdict === "conforms" || (judged.code === undefined && judged.verdict !== "not measured");

const isStanding = ({ judged }: Contribution): boolean =>
  judged.verdict === "not proven" && STANDING.has(judged.code ?? "");

function boundsConflictReason({ least, most, atLeast, atMost }: BoundsConflict<Contribution>): JudgingReason {
  const told = (one: Contribution, value: number) => ({
    ...toldBy(one, value, one.judged.uncertainty),
    isFelt: one.judged.value === null,
  });
  return { code: "bounds-conflict", least: told(least, atLeast), most: told(most, atMost) };
}

/** What one inspection felt against what another one read or felt. */
function feltConflicting(conflict: BoundsConflict<Contribution>): JudgedCharacteristic {
  const { judged } =
    worstOf([conflict.least, conflict.most].filter((one) => one.judged.value !== null)) ?? conflict.least;
  return {
    ...judged,
    verdict: "not proven",
    critical: true,
    reason: boundsConflictReason(conflict),
    code: "felt-contradicts",
    alwaysHolds: true,
  };
}

function conflicting(conflict: Found): JudgedCharacteristic {
  const { judged } = worstOf([conflict.pair.lower.of, conflict.pair.higher.of]) ?? conflict.pair.lower.of;
  return {
    ...judged,
    verdict: "not proven",
    reason: disagreementReason(conflict),
    code: "disagreement",
    alwaysHolds: true,
  };
}

/** What inspections of the same standing say: those that are in no doubt by their mean, else the newest doubt. */
class Deciding {
  private readonly mean = new Averaging();
  private newest: Contribution | undefined;
  private newestProven: Contribution | undefined;
  private conforming: Contribution | undefined;

  add(one: Contribution): void {
    this.newest = one;
    if (!isProven(one)) return;
    this.newestProven = one;
    if (one.judged.verdict === "conforms") this.conforming ??= one;
    this.mean.add(one);
  }

  /** Null where there are none. */
  decided(drawing: ShellDrawing): JudgedCharacteristic | null {
    if (this.newestProven === undefined) return this.newest?.judged ?? null;
    return this.mean.averaged(drawing) ?? (this.conforming ?? this.newestProven).judged;
  }
}

/** One characteristic by several inspections, and what it would be if the batch's plan asked for no more than was measured. */
export type Combined = { readonly judged: JudgedCharacteristic; readonly asFarAsMeasured: JudgedCharacteristic };

/**
 * One characteristic of one seat by all inspections that measured it, oldest first, as they come: another one costs the same
 * however many were before.
 *
 * A failure that one of them proves stays, whatever the others say. Where two disagree nothing is proven, and it holds. Else
 * those decide that were measured as the batch's plan asks and are in no doubt, by their mean.
 */
export class CombinedInspections {
  private count = 0;
  private only: Contribution | undefined;
  private newest: Contribution | undefined;
  private failed: Contribution | undefined;
  private doubtful: Contribution | undefined;
  private newestMeasured: Contribution | undefined;
  private isComplete = false;
  private readonly agreements = new Agreements();
  private readonly bounds = new BoundsComparison<Contribution>();
  private readonly measured = new Deciding();
  private readonly complete = new Deciding();

  /**
   * @param drawing - by whose rule and limits all were judged
   * @param plan - how people name the batch's plan; null where nobody did
   */
  constructor(
    private readonly drawing: ShellDrawing,
    private readonly plan: string | null,
  ) {}

  add(one: Contribution): void {
    this.count += 1;
    // Nearly all frames are measured once: then there is nothing to put together.
    if (this.count === 1) {
      this.only = one;
      return;
    }
    if (this.only !== undefined) this.take(this.only);
    this.only = undefined;
    this.take(one);
  }

  combined(): Combined {
    if (this.only !== undefined) return this.byOne(this.only);
    const failure = this.failure();
    if (failure !== undefined) return { judged: failure, asFarAsMeasured: failure };
    const asFarAsMeasured =
      (this.isComplete ? this.complete : this.measured).decided(this.drawing) ?? this.newest?.judged;
    if (asFarAsMeasured === undefined) throw new Error("CombinedInspections: at least one must be added before");
    if (this.isComplete || this.newestMeasured === undefined) return { judged: asFarAsMeasured, asFarAsMeasured };
    return {
      judged: notMeasured(asFarAsMeasured, this.lessThanAsked(this.newestMeasured)),
      asFarAsMeasured,
    };
  }

  private lessThanAsked({ lacking }: Contribution): JudgingReason {
    return { code: "less-than-asked", plan: this.plan, lacking };
  }

  private byOne(one: Contribution): Combined {
    const { judged, lacking } = one;
    const stands = judged.verdict === "does not conform" || isStanding(one) || !isMeasured(one) || lacking.length === 0;
    return {
      judged: stands ? judged : notMeasured(judged, this.lessThanAsked(one)),
      asFarAsMeasured: judged,
    };
  }

  private take(one: Contribution): void {
    this.newest = one;
    if (one.judged.verdict === "does not conform") this.failed = worseOf(this.failed, one);
    if (isStanding(one)) this.doubtful ??= one;
    this.agreements.add(one);
    this.bounds.add(one);
    if (!isMeasured(one)) return;
    this.newestMeasured = one;
    this.measured.add(one);
    if (one.lacking.length > 0) return;
    this.isComplete = true;
    this.complete.add(one);
  }

  private failure(): JudgedCharacteristic | undefined {
    const conflict = this.agreements.disagreement();
    if (this.failed !== undefined) return this.proven(this.failed, conflict);
    if (conflict !== null) return conflicting(conflict);
    const felt = this.bounds.conflict();
    return felt === null ? this.doubtful?.judged : feltConflicting(felt);
  }

  private proven({ judged, inspection }: Contribution, conflict: Found | null): JudgedCharacteristic {
    if (conflict === null && judged.reason !== undefined) return judged;
    const disagreement = conflict === null ? null : disagreementReason(conflict);
    const reason = { code: "proven", by: inspection.label, own: judged.reason ?? null, disagreement } as const;
    return conflict === null ? { ...judged, reason } : { ...judged, reason, code: "disagreement", alwaysHolds: true };
  }
}
