import { toDecimals } from "../numerics/decimal-digits";
import { CoreError } from "../errors";

/** Largest zero error that leaves readings valid, µm, of a gauge of which nothing is known (common practice, no source). */
export const DEFAULT_ZERO_LIMIT_UM = 3;

/** What the limit of a comparator's zero checks follows from; null where nobody knows it. */
export type ZeroCheckGrounds = {
  /** U (k = 2) of its setting ring, µm. */
  readonly ringUncertaintyUm: number | null;
  /** Step of its display, µm. */
  readonly resolutionUm: number | null;
  /** Standard deviation of the same reading taken again, µm. */
  readonly repeatabilityUm: number | null;
};

/**
 * Largest zero error that leaves readings of a comparator valid, µm: what a gauge that has not moved may show in its ring by
 * chance, 2 x the root of the ring's, the display's and the repeated reading's variances, and never less than one step of the
 * display. Whose repeatability nobody knows keeps the default, unless its ring and its display alone are coarser.
 *
 * @returns µm, > 0, to a hundredth
 * @throws CoreError not-finite; out-of-range on a negative ground
 * Source: JCGM 100:2008 (GUM) 5.1.2 and 6.2; 4.3.7 for the step of a display (its standard uncertainty is 0.29 of the step).
 */
export function zeroLimitUm({ ringUncertaintyUm, resolutionUm, repeatabilityUm }: ZeroCheckGrounds): number {
  const grounds = { ringUncertaintyUm, resolutionUm, repeatabilityUm };
  for (const [name, value] of Object.entries(grounds)) {
    if (value === null) continue;
    assertFinite("zeroLimitUm", { [name]: value });
    if (value < 0)
      throw new CoreError("out-of-range", `zeroLimitUm: ${name} must be at least 0; got ${value}`, { [name]: value });
  }
  const step = resolutionUm ?? 0;
  const spread = 2 * Math.hypot((ringUncertaintyUm ?? 0) / 2, step / Math.sqrt(12), repeatabilityUm ?? 0);
  const byChance = toDecimals(Math.max(spread, step), 2);
  return repeatabilityUm === null || byChance === 0 ? Math.max(DEFAULT_ZERO_LIMIT_UM, byChance) : byChance;
}

/** One check of a comparator in its setting ring. Times are milliseconds on one clock. */
export type ZeroCheck = {
  readonly atMs: number;
  readonly certifiedMm: number;
  readonly readingMm: number;
  /** The limit that it was judged by, µm; the common one where left out. */
  readonly limitUm?: number;
};

/** Time in which readings of the gauge are not proven: after the last good check, until the next good one. */
export type SuspectSpan = {
  /** Last good check or calibration before, null where there was none. */
  readonly afterMs: number | null;
  /** Next good check or calibration, null where there is none yet. */
  readonly untilMs: number | null;
  /** Largest zero error found in the span, µm, signed. */
  readonly zeroErrorUm: number;
};

function assertFinite(where: string, values: Readonly<Record<string, number>>): void {
  for (const [name, value] of Object.entries(values))
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `${where}: ${name} must be finite; got ${value}`, { [name]: value });
}

/**
 * Size from a comparator's deviation against its setting ring.
 *
 * @param certifiedMm - certified diameter of the ring, mm
 * @param deviationUm - reading, µm, positive where the bore is larger
 */
export function sizeFromDeviation(certifiedMm: number, deviationUm: number): number {
  assertFinite("sizeFromDeviation", { certifiedMm, deviationUm });
  return certifiedMm + deviationUm / 1000;
}

/** Zero error of a check, µm: what the gauge showed minus what the ring is. */
export function zeroErrorUm(check: ZeroCheck): number {
  assertFinite("zeroErrorUm", { certifiedMm: check.certifiedMm, readingMm: check.readingMm });
  return (check.readingMm - check.certifiedMm) * 1000;
}

/** Zero errors come from decimal millimetres: beyond the limit only by more than the rounding of the subtraction. */
const ROUNDING_SHARE = 1e-12;

/**
 * Spans of time whose readings a drifted zero makes not proven (common practice, no source): from the last good check before a bad
 * one to the next good one. A calibration is a good check, too.
 *
 * @param checks - zero checks of one gauge, any order
 * @param limitUm - largest accepted zero error of a check without its own, µm, >= 0
 * @param calibratedMs - when the gauge was calibrated, any order
 * @returns spans in order of time, none overlapping
 * @throws CoreError not-finite; out-of-range on a negative limit
 */
export function suspectSpans(
  checks: readonly ZeroCheck[],
  limitUm = DEFAULT_ZERO_LIMIT_UM,
  calibratedMs: readonly number[] = [],
): SuspectSpan[] {
  if (!(limitUm >= 0))
    throw new CoreError("out-of-range", `suspectSpans: limitUm must be at least 0; got ${limitUm}`, { limitUm });
  const spans: SuspectSpan[] = [];
  let lastGoodMs: number | null = null;
  let open: { afterMs: number | null; zeroErrorUm: number } | null = null;
  const calibrations = calibratedMs.map((atMs): ZeroCheck => ({ atMs, certifiedMm: 0, readingMm: 0 }));
  for (const check of [...calibrations, ...checks].sort((a, b) => a.atMs - b.atMs)) {
    assertFinite("suspectSpans", { atMs: check.atMs });
    const error = zeroErrorUm(check);
    const good = Math.abs(error) <= (check.limitUm ?? limitUm) + ROUNDING_SHARE * Math.abs(check.certifiedMm) * 1000;
    if (!good) {
      if (open === null) open = { afterMs: lastGoodMs, zeroErrorUm: error };
      else if (Math.abs(error) > Math.abs(open.zeroErrorUm)) open.zeroErrorUm = error;
      continue;
    }
    if (open !== null) spans.push({ ...open, untilMs: check.atMs });
    open = null;
    lastGoodMs = check.atMs;
  }
  if (open !== null) spans.push({ ...open, untilMs: null });
  return spans;
}

/** The span that makes a reading taken at a time not proven, or null. A reading at the time of a good check is good. */
export function suspectSpanAt(spans: readonly SuspectSpan[], atMs: number): SuspectSpan | null {
  return (
    spans.find(
      ({ afterMs, untilMs }) => (afterMs === null || atMs > afterMs) && (untilMs === null || atMs < untilMs),
    ) ?? null
  );
}

/** The parts of a stretch of readings, both ends of it included, that spans make not proven, in the order of the spans. */
export function suspectParts(
  spans: readonly SuspectSpan[],
  firstMs: number,
  lastMs: number,
): readonly { readonly fromMs: number; readonly toMs: number }[] {
  return spans.flatMap(({ afterMs, untilMs }) =>
    (afterMs === null || lastMs > afterMs) && (untilMs === null || firstMs < untilMs)
      ? [{ fromMs: Math.max(firstMs, afterMs ?? firstMs), toMs: Math.min(lastMs, untilMs ?? lastMs) }]
      : [],
  );
}
