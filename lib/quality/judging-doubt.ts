import type { Seat } from "../core/metrology/reading-name";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import type { DoubtReason } from "./judging-reason";

/** Kinds of doubt, as they are kept and sent; the reason has the numbers. */
export type DoubtCode =
  | "blind"
  | "zero-drifted"
  /** Residuals of a sweep beyond the budget. */
  | "sweep-irregular"
  | "sweep-not-closed"
  /** One reading that the others reject, on which a verdict hangs. */
  | "reading-rejected"
  /** The part was too warm or too cold, or its temperature is not known. */
  | "temperature"
  | "no-gauge"
  | "wrong-gauge"
  | "gauge-range"
  | "never-checked"
  /** Measured at another line's station, and nobody said that it was the right frame. */
  | "other-line"
  | "travel-clipped"
  /** Plugs or bar against the readings, or against each other, beyond both U. */
  | "felt-contradicts"
  /** Plugs or bar show a limit broken. */
  | "felt-breaks-limit"
  /** A plug or bar rejects what the readings leave open or let pass. */
  | "felt-reject"
  /** Judged by the bounds of plugs and bar: no reading gives it. */
  | "felt-bounds"
  /** A bar of a set that nobody knows. */
  | "felt-unknown-set"
  /** The plan asks for a plug or bar that was not tried. */
  | "felt-missing";

/** A reason outside the numbers that keeps a characteristic from being proven. */
export type JudgingDoubt = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  readonly reason: DoubtReason;
  /**
   * True where the readings themselves are in doubt (a drifted zero): then a failure is not proven either. False where only
   * conformity is (a lobe that the gauge does not see).
   */
  readonly alsoFailure: boolean;
  readonly code: DoubtCode;
  /** True where it holds the frame although the characteristic is not critical. */
  readonly holds?: boolean;
  /** Places of the readings to take again, where it is a matter of some of them. */
  readonly readings?: readonly number[];
};
