/** A calibration of a gauge: from when it says what the gauge is worth, and until when; ms since 1970. */
export type CalibrationSpan = { readonly atMs: number; readonly dueMs: number };

/**
 * The calibration that decides over what a gauge measured at a moment: the newest of those that had been done by then. An older
 * one that was due later decides nothing any more, so that a shortened interval takes effect; one done afterwards proves nothing
 * backwards.
 *
 * @param calibrations - newest first; of two of one moment, the one entered last comes first and corrects the other
 * @param ms - when it was measured, ms since 1970
 * @returns null where none had been done
 */
export function calibrationInForce(calibrations: readonly CalibrationSpan[], ms: number): CalibrationSpan | null {
  return calibrations.find(({ atMs }) => atMs <= ms) ?? null;
}

/** Whether a gauge was in calibration at a moment; the moment at which it is due is still in. */
export function isCalibrated(calibrations: readonly CalibrationSpan[], ms: number): boolean {
  const inForce = calibrationInForce(calibrations, ms);
  return inForce !== null && ms <= inForce.dueMs;
}
