import type { OffScale } from "../core/metrology/gauge-range";
import type { ReadingKind, Seat } from "../core/metrology/reading-name";
import type { CharacteristicUnit } from "../core/metrology/shell-drawing";
import type { FeltReason } from "./felt-reason";
import type { LackingReadings } from "./plan-coverage";

/** Why readings are in doubt. */
export type DoubtReason =
  | { readonly code: "unseen-lobes"; readonly lobes: readonly number[] }
  /** `why` as whoever checked the gauge said it. */
  | { readonly code: "zero-drifted"; readonly why: string }
  | { readonly code: "no-gauge" }
  | { readonly code: "wrong-gauge"; readonly gauge: string; readonly principle: string; readonly kind: ReadingKind }
  | {
      readonly code: "gauge-range";
      readonly gauge: string;
      readonly rangeMm: { readonly lower: number; readonly upper: number };
      readonly limits: { readonly lower: number | null; readonly upper: number | null };
    }
  | { readonly code: "never-checked"; readonly gauge: string }
  | ClippedReason
  | SweepReason
  | RejectedReason
  | { readonly code: "temperature-unknown" }
  | {
      readonly code: "temperature-outside";
      readonly temperatureC: number;
      readonly fromC: number;
      readonly toC: number;
    }
  /** Keys of the station that measured, of its line, and of the line of the frame's batch. */
  | { readonly code: "other-line"; readonly station: string; readonly line: string; readonly frameLine: string };

/** Readings at the end of the indicator's travel. */
export type ClippedReason = {
  readonly code: "travel-clipped";
  readonly readings: number;
  readonly atUm: number;
  readonly kind: "sweep" | "face";
};

/** A swept section that does not close, or scatters more than its budget. */
export type SweepReason = { readonly seat: Seat; readonly depthMm: number } & (
  | { readonly code: "sweep-not-closed"; readonly byUm: number; readonly limitUm: number }
  | { readonly code: "sweep-scatters"; readonly residualSdUm: number; readonly budgetUm: number }
);

/** One reading that the others of its sweep, seat or face reject. */
export type RejectedReason = {
  readonly code: "reading-rejected";
  readonly label: string;
  readonly byUm: number;
  readonly of: "sweep" | "seat" | "face";
};

/** Why a characteristic has no value by its readings. */
export type NoValueReason =
  | { readonly code: "not-estimable" }
  /** `why` as the measurement gives it. */
  | { readonly code: "not-given"; readonly why: string }
  /** `isSaid`: somebody said that they cannot be taken. */
  | { readonly code: "readings-missing"; readonly labels: readonly string[]; readonly isSaid: boolean }
  | { readonly code: "reading-off-scale"; readonly label: string; readonly side: OffScale }
  | { readonly code: "gauge-off-scale"; readonly label: string | null; readonly side: OffScale };

/** A value as one inspection has it; `by` is how people name the inspection. */
export type ToldValue = {
  readonly by: string;
  readonly value: number;
  readonly unit: CharacteristicUnit;
  readonly uncertainty: number;
};

/** On what inspections of a characteristic are compared. */
export type ComparedOn = "value" | "smallest" | "largest" | "offset-12" | "offset-3";

export type DisagreementReason = {
  readonly code: "disagreement";
  readonly on: ComparedOn;
  readonly lower: ToldValue;
  readonly higher: ToldValue;
};

/** What several inspections say together, or do not say. */
export type TogetherReason =
  | DisagreementReason
  /** At least so much by the one, at most so much by the other; `isFelt` where plugs or bar say it. */
  | {
      readonly code: "bounds-conflict";
      readonly least: ToldValue & { readonly isFelt: boolean };
      readonly most: ToldValue & { readonly isFelt: boolean };
    }
  /** `plan` as people name it; null where nobody did. */
  | { readonly code: "less-than-asked"; readonly plan: string | null; readonly lacking: readonly LackingReadings[] }
  | { readonly code: "asked-not-measured"; readonly plan: string }
  /** Proven by one inspection, whatever the others say. */
  | {
      readonly code: "proven";
      readonly by: string;
      /** Its own reason; null where its number is all. */
      readonly own: JudgingReason | null;
      readonly disagreement: DisagreementReason | null;
    };

/** Why a characteristic was not measured, or is not proven, or fails for another reason than its number. */
export type JudgingReason = DoubtReason | NoValueReason | FeltReason | TogetherReason;

/** Why the U of one inspection is larger than the plan's. */
export type WideningReason =
  { readonly code: "step"; readonly stepUm: number } | { readonly code: "temperature"; readonly temperatureC: number };
