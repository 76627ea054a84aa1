import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { type Disagreement, findDisagreement, type MeasuredFeature } from "./agreement";
import { boundsConflict, type BoundsConflict } from "./bounds-conflict";
import { guardBand, marginToLimits } from "./conformity";
import type { InspectionEvidence } from "./inspection-evidence";
import { type JudgedCharacteristic, verdictOf, worstPlace } from "./judge-frame";
import { uncertaintyText, valueText } from "./value-text";

/** One inspection's result on one characteristic and seat. */
export type Contribution = {
  readonly inspection: InspectionEvidence;
  readonly measurement: FrameMeasurement;
  readonly judged: JudgedCharacteristic;
  /** What the batch's plan asks for and this inspection's plan does not: in words, [] where nothing. */
  readonly lacking: readonly string[];
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

type Comparison = { readonly what: string; readonly features: MeasuredFeature<Contribution>[] };

/** The features on which some inspections are compared: both extremes, or the value, and the offset behind a zone. */
function comparisons(contributions: readonly Contribution[]): Comparison[] {
  const comparable = contributions.filter(({ judged }) => judged.value !== null);
  if (comparable.length < 2) return [];
  const features = (what: string, pick: (one: Contribution) => number | null | undefined, side?: "low" | "high") => ({
    what,
    features: comparable.flatMap((one): MeasuredFeature<Contribution>[] => {
      const value = pick(one);
      if (value === null || value === undefined) return [];
      const partial = isPartial(one);
      const uncertainty = one.judged.uncertainty * (partial && side === undefined ? PARTIAL_FACTOR : 1);
      return [{ of: one, value, uncertainty, low: !partial || side !== "high", high: !partial || side !== "low" }];
    }),
  });
  const [first] = comparable;
  if (first?.judged.smallest !== undefined)
    return [
      features("smallest", ({ judged }) => judged.smallest, "low"),
      features("largest", ({ judged }) => judged.largest, "high"),
    ];
  const value = features("", ({ judged }) => judged.value);
  if (first?.judged.name !== "coaxiality") return [value];
  // A zone is twice the distance of the axis: two equal zones to opposite sides are not the same shell.
  const swept = ({ measurement, judged }: Contribution) => measurement.swept.find((one) => one.swept === judged.seat);
  const twice = (um: number | null | undefined) => (um === null || um === undefined ? um : 2 * um);
  return [
    value,
    features("towards 12 o'clock, twice the offset", (one) => twice(swept(one)?.offset12Um)),
    features("towards 3 o'clock, twice the offset", (one) => twice(swept(one)?.offset3Um)),
  ];
}

type Found = { readonly what: string; readonly pair: Disagreement<Contribution> };

function disagreementOf(contributions: readonly Contribution[]): Found | null {
  for (const { what, features } of comparisons(contributions)) {
    const pair = findDisagreement(features);
    if (pair !== null) return { what, pair };
  }
  return null;
}

function disagreementText({ what, pair: { lower, higher } }: Found): string {
  const say = ({ of, value, uncertainty }: MeasuredFeature<Contribution>): string =>
    `${of.inspection.label} ${valueText(value, of.judged.unit)} (${uncertaintyText(uncertainty, of.judged.unit)})`;
  return `inspections disagree by more than both uncertainties${what === "" ? "" : ` (${what})`}: ${say(lower)}, ${say(higher)}`;
}

/** Distance of what was judged to its limits; a verdict without a value, as off the scale, is the furthest beyond. */
function marginOf({ name, value, lower, upper }: JudgedCharacteristic): number {
  if (value === null) return -Infinity;
  return marginToLimits(name === "taper" ? Math.abs(value) : value, lower, upper);
}

function worstOf(contributions: readonly Contribution[]): Contribution | undefined {
  return contributions.reduce<Contribution | undefined>(
    (worst, one) => (worst === undefined || marginOf(one.judged) < marginOf(worst.judged) ? one : worst),
    undefined,
  );
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/**
 * Mean of each feature over inspections that agree. Its U is the mean of theirs: what they have in common (ring, gauge, fixture,
 * temperature) does not average away, and for errors that go wholly together this is exact, for all others too large.
 */
function averaged(contributions: readonly Contribution[], drawing: ShellDrawing): JudgedCharacteristic | null {
  const valued = contributions.filter(({ judged }) => judged.value !== null);
  const worst = worstOf(valued);
  if (worst === undefined) return null;
  const { judged } = worst;
  if (valued.length === 1) return judged;
  const hasExtremes = judged.smallest !== undefined && judged.largest !== undefined;
  const values = hasExtremes
    ? [
        mean(valued.map((one) => one.judged.smallest ?? judged.smallest ?? 0)),
        mean(valued.map((one) => one.judged.largest ?? judged.largest ?? 0)),
      ]
    : [mean(valued.map((one) => one.judged.value ?? 0))];
  const value = values[worstPlace(values, judged)] ?? 0;
  const uncertainty = mean(valued.map((one) => one.judged.uncertainty));
  const { reason: _reason, code: _code, alwaysHolds: _alwaysHolds, ...rest } = judged;
  return {
    ...rest,
    value,
    uncertainty,
    verdict: verdictOf(judged.name, value, judged, guardBand(drawing.decisionRule, uncertainty)),
    ...(hasExtremes ? { smallest: values[0] ?? 0, largest: values[1] ?? 0 } : {}),
  };
}

function lackingText(plan: string, lacking: readonly string[]): string {
  const named = lacking.length > 2 ? lacking.slice(0, 1) : lacking;
  const rest = lacking.length - named.length;
  return `measured with less than ${plan} asks for: ${named.join("; ")}${rest > 0 ? `; and ${rest} more` : ""}`;
}

export const notMeasured = (judged: JudgedCharacteristic, reason: string): JudgedCharacteristic => {
  const { alwaysHolds: _alwaysHolds, ...rest } = judged;
  return { ...rest, verdict: "not measured", reason, code: "lacking" };
};

/** Inspections that have no doubt of their own. */
const isProven = ({ judged }: Contribution): boolean =>
  judged.verdict === "conforms" || (judged.code === undefined && judged.verdict !== "not measured");

function standingDoubt(contributions: readonly Contribution[]): Contribution | undefined {
  return contributions.find(({ judged }) => judged.verdict === "not proven" && STANDING.has(judged.code ?? ""));
}

function failureAmong(contributions: readonly Contribution[]): JudgedCharacteristic | undefined {
  const failed = worstOf(contributions.filter(({ judged }) => judged.verdict === "does not conform"));
  if (failed === undefined || contributions.length === 1) return failed?.judged;
  const conflict = disagreementOf(contributions);
  const proof = failed.judged.reason ?? `proven by ${failed.inspection.label}`;
  if (conflict === null) return { ...failed.judged, reason: proof };
  return {
    ...failed.judged,
    reason: `${proof}; ${disagreementText(conflict)}`,
    code: "disagreement",
    alwaysHolds: true,
  };
}

function boundsConflictText({ least, most, atLeast, atMost }: BoundsConflict<Contribution>): string {
  const say = ({ inspection, judged }: Contribution, word: string, value: number): string =>
    `${inspection.label} ${judged.value === null ? `by plugs or bar ${word} ` : ""}${valueText(value, judged.unit)} (${uncertaintyText(judged.uncertainty, judged.unit)})`;
  return `inspections contradict each other by more than both uncertainties: ${say(least, "at least", atLeast)}, ${say(most, "at most", atMost)}`;
}

/** What one inspection felt against what another one read or felt. */
function feltConflictAmong(contributions: readonly Contribution[]): JudgedCharacteristic | undefined {
  const conflict = boundsConflict(contributions);
  if (conflict === null) return undefined;
  const { judged } =
    worstOf([conflict.least, conflict.most].filter((one) => one.judged.value !== null)) ?? conflict.least;
  return {
    ...judged,
    verdict: "not proven",
    critical: true,
    reason: boundsConflictText(conflict),
    code: "felt-contradicts",
    alwaysHolds: true,
  };
}

function conflictAmong(contributions: readonly Contribution[]): JudgedCharacteristic | undefined {
  const conflict = disagreementOf(contributions);
  if (conflict === null) return feltConflictAmong(contributions);
  const { judged } = worstOf([conflict.pair.lower.of, conflict.pair.higher.of]) ?? conflict.pair.lower.of;
  return {
    ...judged,
    verdict: "not proven",
    reason: disagreementText(conflict),
    code: "disagreement",
    alwaysHolds: true,
  };
}

/** What inspections of the same standing say: those that are in no doubt by their mean, else the newest doubt. */
function decided(contributions: readonly Contribution[], drawing: ShellDrawing): JudgedCharacteristic {
  const proven = contributions.filter(isProven);
  const newest = proven.at(-1) ?? contributions.at(-1);
  if (newest === undefined) throw new Error("decided: contributions must not be empty");
  if (proven.length === 0) return newest.judged;
  return averaged(proven, drawing) ?? (proven.find(({ judged }) => judged.verdict === "conforms") ?? newest).judged;
}

/** One characteristic by several inspections, and what it would be if the batch's plan asked for no more than was measured. */
export type Combined = { readonly judged: JudgedCharacteristic; readonly asFarAsMeasured: JudgedCharacteristic };

/**
 * One characteristic of one seat by all inspections that measured it.
 *
 * A failure that one of them proves stays, whatever the others say. Where two disagree nothing is proven, and it holds. Else
 * those decide that were measured as the batch's plan asks and are in no doubt, by their mean.
 *
 * @param contributions - at least one, oldest first
 * @param drawing - by whose rule and limits all were judged
 * @param plan - how a reason names the batch's plan
 */
export function combineInspections(
  contributions: readonly Contribution[],
  drawing: ShellDrawing,
  plan: string,
): Combined {
  const failure = failureAmong(contributions) ?? conflictAmong(contributions) ?? standingDoubt(contributions)?.judged;
  if (failure !== undefined) return { judged: failure, asFarAsMeasured: failure };
  const measured = contributions.filter(isMeasured);
  const complete = measured.filter(({ lacking }) => lacking.length === 0);
  if (complete.length > 0) {
    const judged = decided(complete, drawing);
    return { judged, asFarAsMeasured: judged };
  }
  const weak = measured.at(-1);
  const asFarAsMeasured = decided(weak === undefined ? contributions : measured, drawing);
  if (weak === undefined) return { judged: asFarAsMeasured, asFarAsMeasured };
  return { judged: notMeasured(asFarAsMeasured, lackingText(plan, weak.lacking)), asFarAsMeasured };
}
