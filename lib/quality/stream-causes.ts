import { featureNamed, type FeatureName } from "../core/metrology/features";
import type { StreamFinding } from "./stream-finding";

/** What is needed of a stream to see whether it shares its cause with others. */
export type CausedStream = {
  readonly id: string;
  /** Line, operation and drawing: only streams of the same frames can share a cause. */
  readonly group: string;
  readonly feature: FeatureName;
  readonly finding: StreamFinding | null;
  readonly openSignals: number;
};

/** Why streams move together: one reamer and one gauge for both bores, or two views of one form. */
export type SharedBecause = "both-bores" | "one-form";

/** Streams that read as one thing: the first one leads, the others moved with it. */
export type SharedCause<T extends CausedStream> = {
  readonly lead: T;
  readonly others: readonly T[];
  /** What they have in common, where there are others. */
  readonly because: SharedBecause | null;
};

function isBore(feature: FeatureName): boolean {
  const { characteristic, statistic } = featureNamed(feature);
  return characteristic === "bore" && statistic === "mean";
}
function isForm(feature: FeatureName): boolean {
  const { characteristic, statistic } = featureNamed(feature);
  return characteristic === "ovality" || (characteristic === "bore" && statistic === "range");
}

type Change = { readonly at: number; readonly slack: number; readonly sign: number };

function changeOf(finding: StreamFinding | null): Change | null {
  if (finding?.kind === "moved") {
    const slack = Math.max(1, finding.latest - finding.earliest);
    return { at: finding.since, slack, sign: Math.sign(finding.now - finding.before) };
  }
  if (finding?.kind === "off-baseline")
    return { at: finding.from, slack: 0, sign: Math.sign(finding.now - finding.baseline) };
  return null;
}

function movedTogether(a: StreamFinding | null, b: StreamFinding | null): boolean {
  const [one, other] = [changeOf(a), changeOf(b)];
  if (one === null || other === null || one.sign !== other.sign) return false;
  return Math.abs(one.at - other.at) <= one.slack + other.slack;
}

/** Why two streams of the same frames are taken for one thing, or null. */
function sharedBecause(a: CausedStream, b: CausedStream): SharedBecause | null {
  if (a.group !== b.group || a.openSignals === 0 || b.openSignals === 0) return null;
  if (isBore(a.feature) && isBore(b.feature) && movedTogether(a.finding, b.finding)) return "both-bores";
  // A range of diameters and the ovality of the same bore are two views of one form.
  if (isForm(a.feature) && isForm(b.feature) && featureNamed(a.feature).seat === featureNamed(b.feature).seat)
    return "one-form";
  return null;
}

/**
 * Streams gathered by what moved them, so that one cause in several streams reads as one thing.
 *
 * @param streams - by urgency; the order of the leads stays
 */
export function gatherCauses<T extends CausedStream>(streams: readonly T[]): SharedCause<T>[] {
  const causes: { lead: T; others: T[]; because: SharedBecause | null }[] = [];
  for (const stream of streams) {
    const cause = causes.find(({ lead }) => sharedBecause(lead, stream) !== null);
    if (!cause) causes.push({ lead: stream, others: [], because: null });
    else {
      cause.others.push(stream);
      cause.because ??= sharedBecause(cause.lead, stream);
    }
  }
  return causes;
}
