import { formatClock } from "@/lib/core/metrology/reading-name";
import type { DistributionFamily } from "@/lib/core/distributions/distribution-model";
import type { ControlLimits, LimitsMethod, NoLimitsReason } from "@/lib/quality/control-limits";
import type { UnknownBound } from "@/lib/quality/stream-capability";
import type { StreamSignal, StreamSubject } from "@/lib/quality/stream-evaluation";
import type { OffsetSignal } from "@/lib/quality/stream-offset";
import { formatFixed } from "./number-text";
import { numberText, seatText } from "./value-text";

/** The rule that a one-sided average beyond its limit breaks. */
const AVERAGE_RULE = "ewma";

/** The stream's name in words: "bore of the DS seat, mean of the seat". */
export function streamText(subject: StreamSubject): string {
  const what = {
    mean: subject.characteristic === "bore" ? ", mean of the seat" : ", mean",
    range: ", spread within the bore",
    value: "",
    offset: ", offset vector (T2)",
  };
  return `${subject.characteristic}${seatText(subject.seat)}${what[subject.statistic]}`;
}

const PATTERN_WORDS: Readonly<Record<string, string>> = {
  "zone-1": "one frame beyond the control limit",
  "zone-2": "two of three frames in a row beyond two standard deviations",
  "zone-3": "four of five frames in a row beyond one standard deviation",
  "zone-4": "eight frames in a row on one side of the mean",
  "test-1": "one frame beyond the control limit",
  ewma: "the weighted mean of the last frames beyond its limit",
};

function offsetText({ byUm, clockDeg, t2, limit }: OffsetSignal): string {
  return `the NDS seat lies ${formatFixed(byUm, 0)} µm from its mean towards ${formatClock(clockDeg)} o'clock: T2 ${formatFixed(t2, 1)}, limit ${formatFixed(limit, 1)}`;
}

/** A signal in words, with the value at its last point; of an average beyond its limit, the average there. */
export function signalText(signal: StreamSignal, limits: ControlLimits, unit: StreamSubject["unit"]): string {
  const { value } = signal;
  if (signal.offset !== undefined) return offsetText(signal.offset);
  if (unit === "T2") return PATTERN_WORDS[signal.rule] ?? signal.rule;
  const pattern = PATTERN_WORDS[signal.rule] ?? signal.rule;
  const side = signal.side === null ? "" : signal.side === "upper" ? ", high" : ", low";
  const ofAverage = signal.rule === AVERAGE_RULE ? limits.average : null;
  const limit = ofAverage?.limit ?? (signal.side === "lower" ? limits.lower : limits.upper);
  const beyond =
    (signal.rule.endsWith("-1") || ofAverage !== null) && limit !== null ? `, limit ${numberText(limit, unit)}` : "";
  const centre = `${limits.kind === "quantile" ? "median" : "mean"} ${numberText(limits.center, unit)}`;
  return `${pattern}${side}: ${numberText(value, unit)} ${unit}${beyond}, ${centre}`;
}

const FAMILY_WORDS = {
  rayleigh: "Rayleigh",
  normal: "normal",
  "folded-normal": "folded normal",
  rice: "Rice",
  lognormal: "lognormal",
  weibull: "Weibull",
  gamma: "gamma",
  johnson: "Johnson",
} as const satisfies Record<DistributionFamily, string>;

/** How limits were computed, as it is kept with a version. */
export function limitsMethodText(method: LimitsMethod): string {
  switch (method.code) {
    case "moving-range":
      return "mean -/+ 3 x mean moving range / d2";
    case "offset-vector":
      return "Hotelling T2 of the offset vector";
    case "quantiles": {
      const quantiles = `median and 99.865 % quantile of the fitted ${FAMILY_WORDS[method.family]} distribution`;
      return method.hasHalfStep ? `${quantiles}, half a step of the values above it` : quantiles;
    }
    case "kept":
      return method.text;
  }
}

const NO_LIMITS = {
  "all-equal": "All values are equal, so there is no variation to set limits from.",
  "no-distribution": "No distribution fits these values, so there are no limits.",
  "on-a-line": "The offsets do not vary in two directions, so there is nothing to set limits from.",
} as const;

/** Why there are no limits: a sentence. */
export function noLimitsText(reason: NoLimitsReason): string {
  switch (reason.code) {
    case "too-few-frames":
      return `Limits need at least ${reason.needed} frames; there are ${reason.frames}.`;
    case "not-given":
      return reason.why;
    default:
      return NO_LIMITS[reason.code];
  }
}

const UNKNOWN_BOUND = {
  "no-limit": "the drawing gives no limit",
  "no-interval": "its interval cannot be computed",
  "no-frame-measured": "no frame of this batch was measured",
  "not-computable": "it cannot be computed from its frames",
} as const;

function asClause(sentence: string): string {
  return sentence.slice(0, 1).toLowerCase() + sentence.slice(1).replace(/\.$/, "");
}

/** Why a stream's bound is not known: a clause without a full stop. */
export function unknownBoundText(because: UnknownBound): string {
  switch (because.code) {
    case "too-few-frames":
      return `${because.frames} of ${because.needed} frames`;
    case "no-fit":
      return `no distribution fits the last ${because.frames} frames`;
    case "refused":
      return asClause(because.reason);
    default:
      return UNKNOWN_BOUND[because.code];
  }
}
