import type { Estimate } from "../core/errors";
import type { RunningClearance } from "../core/fit/running-clearance";
import type { BearingMisalignment } from "../core/fit/bearing-misalignment";
import type { FitInterference, SizeLimits } from "../core/fit/fit-interference";
import type { PairCylinder } from "../core/metrology/functional-size";
import type { GaugeBarPassage, GaugeBarSet } from "../core/metrology/gauge-bar";
import type { Seat } from "../core/metrology/reading-name";
import type { CompoundRange, CompoundSalvage, SalvageOption } from "../core/metrology/salvage";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import type { UnseenLobe } from "../core/metrology/unseen-lobes";

/** An expanded uncertainty (k = 2) of the number that a meaning gives first. */
export type MeaningUncertainty = { readonly value: number; readonly unit: "µm" | "mm" | "arcmin" };

/** Why the readings of a frame do not give an estimate. */
export type NoMeaningReason =
  /** `why` as the measurement or the computation gives it. */
  | { readonly code: "not-given"; readonly why: string }
  | { readonly code: "no-diameters"; readonly seat: Seat | null }
  | { readonly code: "clearance-beyond-grooves" }
  | { readonly code: "no-sweep" }
  | { readonly code: "no-upper-size" }
  | { readonly code: "no-lower-width" }
  | { readonly code: "no-width" }
  | { readonly code: "no-face" };

export type MeaningResult<T> =
  | { readonly ok: true; readonly value: T; readonly warnings: readonly [] }
  | { readonly ok: false; readonly reason: NoMeaningReason };

/** One thing that the readings of a frame mean: what was asked, and the answer with its U; lib/format says it. */
type Answered<T> = {
  readonly result: MeaningResult<T>;
  /** Null where there is no answer. */
  readonly uncertainty: MeaningUncertainty | null;
};

/** Interference of the part that a seat carries, and what the bearing does in it. */
export type SeatFit = FitInterference & { readonly seatMeanMm: number; readonly part: SizeLimits };

/** Tilt of a bearing against what it takes over the band of its running clearance, arc minutes. */
export type SeatTilt = BearingMisalignment & {
  readonly freeBandArcmin: readonly [min: number, mean: number, max: number];
};

/** What goes into a seat. */
export type CarriedPart = "cup" | "bearing";

export type FitMeaning = Answered<SeatFit> & {
  readonly code: "fit";
  readonly seat: Seat;
  readonly part: CarriedPart;
  readonly limits: SizeLimits;
};

export type ClearanceMeaning = Answered<RunningClearance> & {
  readonly code: "clearance";
  readonly seat: Seat;
  readonly bearing: Pick<ShellDrawing["carries"]["bearing"], "designation" | "clearanceClass" | "clearanceUm">;
  /** Interference of the bearing in its cup, µm; null where there is none. */
  readonly inCupUm: readonly [least: number, most: number] | null;
  readonly shell: { readonly material: string; readonly outsideDiameterMm: number };
  readonly warmerByK: number;
};

export type TiltMeaning = Answered<SeatTilt> & {
  readonly code: "tilt";
  readonly seat: Seat;
  readonly ballDiameterMm: number;
  readonly grooveFactor: number;
  readonly makerTiltArcmin: number | null;
};

export type FunctionalMeaning = Answered<PairCylinder> & {
  readonly code: "functional-size";
  /** What of the wall no reading saw: a smaller bar may be the largest. */
  readonly unseen: readonly UnseenLobe[];
  /** The seat on which the bar binds first, and where, as from the drive side; null without an answer. */
  readonly binds: { readonly seat: Seat; readonly clockDeg: readonly number[] } | null;
};

export type BarMeaning = Answered<GaugeBarPassage> & { readonly code: "gauge-bar"; readonly set: GaugeBarSet };

export type ReamMeaning = Answered<SalvageOption> & { readonly code: "ream" };

export type FacingMeaning = Answered<SalvageOption> & {
  readonly code: "facing";
  readonly mostPerSideMm: number;
  /** What square faces take, µm a side, and the least width; null without an answer. */
  readonly cut: { readonly dsUm: number; readonly ndsUm: number; readonly minimumMm: number } | null;
};

export type CompoundMeaning = Answered<CompoundSalvage> & {
  readonly code: "compound";
  readonly seat: Seat;
  readonly part: CarriedPart;
  readonly range: CompoundRange;
};

/** An answer. */
export function given<T>(
  value: T,
  uncertainty: MeaningUncertainty,
): {
  readonly result: { readonly ok: true; readonly value: T; readonly warnings: readonly [] };
  readonly uncertainty: MeaningUncertainty;
} {
  return { result: { ok: true, value, warnings: [] }, uncertainty };
}

/** No answer, with the reason. */
export function notEstimable(reason: NoMeaningReason): {
  readonly result: { readonly ok: false; readonly reason: NoMeaningReason };
  readonly uncertainty: null;
} {
  return { result: { ok: false, reason }, uncertainty: null };
}

/** An estimate of core, whose reason is words already. */
export function resultOf<T>(estimate: Estimate<T>): MeaningResult<T> {
  return estimate.ok
    ? { ok: true, value: estimate.value, warnings: [] }
    : { ok: false, reason: { code: "not-given", why: estimate.reason } };
}
