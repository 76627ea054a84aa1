/** When a plan asks for zero checks beside the standing occasions: after a knock and at the end of a batch (common practice, no source). */
export type ZeroCheckRule = {
  /** Times of day at which shifts begin, such as "06:00", by the plant's clock. */
  readonly starts?: readonly string[];
  /** So many hours after the last one. */
  readonly everyHours?: number;
  /** After so many frames. */
  readonly everyFrames?: number;
};

/** Where neither plan nor plant says when shifts begin: the length of one, h (common practice, no source). */
export const USUAL_SHIFT_HOURS = 8;

/** What is known of a comparator since its last zero check. Times are ms since 1970. */
export type ComparatorUse = {
  /** Its last zero check, good or not; null where there was none. */
  readonly lastMs: number | null;
  readonly framesSince: number;
  /** Somebody said that it was knocked. */
  readonly knocked: boolean;
  /** A batch that it measured is done. */
  readonly batchEnded: boolean;
};

export type ZeroCheckReason =
  | { readonly code: "knocked" | "never-checked" | "shift-began" | "batch-measured" }
  | { readonly code: "hours"; readonly hours: number }
  | { readonly code: "frames"; readonly frames: number };

export type ZeroCheckNeed = {
  readonly occasion: "shift start" | "after a knock" | "batch end" | "other";
  readonly why: ZeroCheckReason;
};

const HOUR_MS = 3_600_000;

/**
 * Whether a comparator has to be shown its setting ring now, and why: after a knock, when a shift began, at the end of a
 * batch, after so many hours or frames as the plan says.
 *
 * @param shiftStartMs - when the shift that runs now began; null where nobody says when shifts begin
 * @returns the first need in this order, null where none
 */
export function zeroCheckDue(
  use: ComparatorUse,
  rule: ZeroCheckRule,
  { nowMs, shiftStartMs }: { readonly nowMs: number; readonly shiftStartMs: number | null },
): ZeroCheckNeed | null {
  const { lastMs, framesSince, knocked, batchEnded } = use;
  if (knocked) return { occasion: "after a knock", why: { code: "knocked" } };
  if (lastMs === null) return { occasion: "shift start", why: { code: "never-checked" } };
  if (shiftStartMs !== null && lastMs < shiftStartMs) return { occasion: "shift start", why: { code: "shift-began" } };
  const hours = rule.everyHours ?? (shiftStartMs === null ? USUAL_SHIFT_HOURS : null);
  if (hours !== null && nowMs - lastMs >= hours * HOUR_MS)
    return {
      occasion: rule.everyHours === undefined ? "shift start" : "other",
      why: { code: "hours", hours: Math.floor((nowMs - lastMs) / HOUR_MS) },
    };
  if (batchEnded) return { occasion: "batch end", why: { code: "batch-measured" } };
  if (rule.everyFrames !== undefined && framesSince >= rule.everyFrames)
    return { occasion: "other", why: { code: "frames", frames: framesSince } };
  return null;
}
