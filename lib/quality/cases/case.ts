import type { FeatureName } from "../../core/metrology/features";

/**
 * What a case looks at of one line, drawing and operation: charted features (taper with its sign), and of each seat's oval its
 * components along 12-6 and along 1:30-7:30, which no chart shows: an oval that stays where it is points at a mould.
 */
export type CaseFeature = FeatureName | OvalFeature;
export type OvalFeature = "ds.oval.12" | "ds.oval.1:30" | "nds.oval.12" | "nds.oval.1:30";

/** What a frame was made and measured with. Gauges by the kind of reading that they take. */
export type LabelName =
  | "tool"
  | "fixture"
  | "mould"
  | "gauge.bore"
  | "gauge.sweep"
  | "gauge.face"
  | "gauge.width"
  | "inspector"
  | "supplier"
  | "batch"
  | "shift";

/** One frame of the line, in the order of measuring; its place is its index. */
export type CaseFrame = {
  readonly serial: string;
  readonly labels: Readonly<Partial<Record<LabelName, string>>>;
  /** Judged features that lie outside a limit. */
  readonly outside: readonly FeatureName[];
};

/** One stream: a value a frame. */
export type CaseStream = {
  readonly feature: CaseFeature;
  /** One per frame of the line, in the feature's unit; null where it was not measured. */
  readonly values: readonly (number | null)[];
  /** Places of the frames of its baseline, ascending; those from the start of a change on are not used for it. */
  readonly baseline: readonly number[];
  /** A size that is never below zero and has no lower side: ovality, spread, tilt, run-out. */
  readonly isForm: boolean;
  /** Standard deviation of ordinary differences from shift to shift and by wear, in the feature's unit; 0 where it is not known. */
  readonly wander: number;
  /** Limits narrowed by the guard band, in the feature's unit, for the forecast; null where there is none. */
  readonly lower: number | null;
  readonly upper: number | null;
};

/** Which test of the scheme signalled: the sums, the limit, a frame outside its drawing limits, the whole file at once. */
export type SignalTest = "slow sum" | "fast sum" | "limit" | "outside" | "whole";

/** One signal of one stream. */
export type Signal = {
  readonly feature: CaseFeature;
  /** Frame at which the test passed its threshold. */
  readonly place: number;
  /** Side to which the stream went; an offset vector signals in the component that moved most. */
  readonly sign: 1 | -1;
  readonly test: SignalTest;
};

export type EventKind = "tool" | "fixture" | "mould" | "gauge" | "material" | "inspector" | "other";

/** What people did between two frames. */
export type CaseEvent = {
  readonly kind: EventKind;
  /** First frame that was made or measured after it. */
  readonly place: number;
  readonly subject: string | null;
};

/** A check of a size gauge on its ring. */
export type CaseZeroCheck = {
  readonly gauge: string;
  /** Frames of the line that were measured before it. */
  readonly place: number;
  /** What the gauge showed too much, µm, and the standard deviation of that by itself. */
  readonly deviationUm: number;
  readonly sdUm: number;
};

/** Everything of one line, drawing and operation that cases are made of. */
export type CaseLine = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly frames: readonly CaseFrame[];
  readonly streams: readonly CaseStream[];
  readonly events: readonly CaseEvent[];
  readonly zeroChecks: readonly CaseZeroCheck[];
  /** Closed cases of the plant by the cause that was assigned. */
  readonly closed: Readonly<Record<string, number>>;
  /** Causes that the plant added to the table. */
  readonly ownCauses: readonly CauseRule[];
};

export type CaseKind = "step" | "trend" | "spread" | "frames";
export type CaseUnit = "µm" | "arcmin";

/** Size of a change: of a step or of the frames that moved, µm; of a trend a frame; of a spread the factor of its sd. */
export type CaseChange =
  | { readonly value: number; readonly unit: CaseUnit; readonly each: "change" | "frame" }
  | { readonly value: number; readonly unit: null; readonly each: "factor" };

/** A stream of a case. */
export type CaseMember = {
  readonly feature: CaseFeature;
  /** By a signal of its own, or moved at p < 0.001 with the others. */
  readonly by: "signal" | "also moved";
  readonly sign: 1 | -1;
  readonly change: CaseChange;
};

/** Causes of the table; the plant's own have names of their own. */
export type CauseCode =
  | "reamer worn"
  | "reamer changed"
  | "fixture moved"
  | "mould"
  | "gauge"
  | "inspector"
  | "paint in the bore"
  | "material lot"
  | "unknown"
  | `own: ${string}`;

/** Streams that a rule names together, whatever the seat. */
export type StreamKind = "bore" | "spread" | "ovality" | "oval" | "taper" | "offset" | "tilt" | "face" | "width";

/** One size that a cause gives to streams. */
export type CauseMove = {
  readonly kind: StreamKind;
  /** One size in the unit for both seats, or one for each seat or component. */
  readonly seats: "alike" | "each";
  readonly sign: 1 | -1 | 0;
};

/** One way in which a cause shows itself. */
export type CauseRule = {
  readonly cause: CauseCode;
  readonly moves: readonly CauseMove[];
  /** Streams that may move along or not. */
  readonly may: readonly StreamKind[];
  /** Streams that scatter more and keep their level. */
  readonly scatters: readonly StreamKind[];
  readonly shapes: readonly CaseKind[];
  /** What its frames have in common; moved frames without it do not belong to it. */
  readonly label: LabelName | null;
  /** The label has to change at the start where it is known at all, or an event of the kind has to lie there. */
  readonly needsChange: boolean;
  /** Events of this kind make it likelier. */
  readonly event: EventKind | null;
  /** Odds of this way of a cause beside those of the table, 1 where it is left out. */
  readonly odds?: number;
  /** Only at operations with this word in their names. */
  readonly operation: string | null;
  /** What the readings of one line cannot tell from it, and the measurement that does. */
  readonly twin: CauseTwin | null;
};

export type SettlingMeasurement =
  | "zero check or other gauge"
  | "turned on the mandrel"
  | "before machining or other fixture"
  | "five times by two people"
  | "one frame of the old lot"
  | "both temperatures"
  | "same frame after machining";

export type CauseTwin = {
  readonly what: CauseCode | "sweep mandrel" | "clamping distortion" | "loose gauge" | "warm part";
  readonly measure: SettlingMeasurement;
};

/** One reason for or against a cause. */
export type Evidence =
  | { readonly code: "moved alike"; readonly isFor: true; readonly features: readonly CaseFeature[] }
  | { readonly code: "spared"; readonly isFor: true; readonly features: readonly CaseFeature[] }
  | { readonly code: "spared stream moved"; readonly isFor: false; readonly features: readonly CaseFeature[] }
  | { readonly code: "does not fit"; readonly isFor: false }
  | { readonly code: "shape"; readonly isFor: boolean; readonly kind: CaseKind }
  | { readonly code: "oval stays"; readonly isFor: boolean; readonly clockHours: number }
  | { readonly code: "began with"; readonly isFor: true; readonly label: LabelName; readonly value: string }
  | { readonly code: "event"; readonly isFor: true; readonly kind: EventKind; readonly place: number }
  | { readonly code: "only with"; readonly isFor: true; readonly label: LabelName; readonly value: string }
  | { readonly code: "no change of"; readonly isFor: false; readonly label: LabelName }
  | { readonly code: "not after paint"; readonly isFor: false }
  | { readonly code: "zero check"; readonly isFor: boolean; readonly place: number; readonly deviationUm: number }
  | { readonly code: "frames between"; readonly isFor: true; readonly affected: number; readonly of: number }
  | { readonly code: "often before"; readonly isFor: true; readonly times: number };

export type RankedCause = {
  readonly cause: CauseCode;
  /** The tool, mould, gauge, person or lot that it names; null where the frames do not say. */
  readonly subject: string | null;
  /** ln of its likelihood and prior, the best at 0; null where it is excluded. */
  readonly lnOdds: number | null;
  readonly evidence: readonly Evidence[];
};

/**
 * What is said of the cause: one that is ten times likelier than the next; two that the readings do not separate, with the
 * measurement that does (null where the table knows none); several at once; or none.
 */
export type CauseAnswer =
  | { readonly kind: "probable"; readonly cause: CauseCode; readonly twin: CauseTwin | null }
  | {
      readonly kind: "either";
      readonly causes: readonly [CauseCode, CauseCode];
      readonly measure: SettlingMeasurement | null;
    }
  | { readonly kind: "together"; readonly causes: readonly [CauseCode, CauseCode] }
  | { readonly kind: "unknown" };

/** One change of one line: what moved, since when, how, and why. Places are indices of the line's frames. */
export type Case = {
  readonly line: string | null;
  readonly operation: string | null;
  readonly members: readonly CaseMember[];
  readonly signals: readonly Signal[];
  readonly kind: CaseKind;
  /** First frame of the change and the range that it may be in. */
  readonly since: { readonly place: number; readonly earliest: number; readonly latest: number };
  /** Last frame of it where it is over, else null. */
  readonly until: number | null;
  /** Change of the lead; of the offset the length of the vector, whatever its direction. */
  readonly change: CaseChange;
  /** Where the offset went, clock hours as seen from the drive side; null for other leads and for a spread. */
  readonly towards: number | null;
  /** The stream that says the size of the case: what its likeliest cause moves, else what moved most in its own sd. */
  readonly lead: CaseFeature;
  /** Most likely first, the excluded last. */
  readonly causes: readonly RankedCause[];
  readonly answer: CauseAnswer;
  /** Frames outside a limit in features of its members, places. */
  readonly outside: readonly number[];
  /** Frames until the forecast of a member meets its guarded limit; null where it does not or the case is over. */
  readonly framesToLimit: number | null;
  /** Place of the earlier case of the same causes in the list, where this one is back again. */
  readonly backAgain: number | null;
};
