import { CoreError, type Estimate } from "../errors";
import { designHarmonics, fitHarmonics, type HarmonicDesign, type HarmonicFit } from "./harmonic-fit";
import { designLobes, type LobeDesign, type SweepLobe, sweepLobes } from "./sweep-lobes";

/** Largest difference, µm, between the closing reading and the first one (a setting; common practice, no source). */
export const DEFAULT_CLOSING_LIMIT_UM = 3;

/** Standard deviation of one indicator reading in a sweep, µm (invented for the demonstration). */
export const SWEEP_NOISE_UM = 1.2;

/** Where the readings of one sweep go: which are fitted, and which one closes. */
export type SweepDesign = {
  readonly harmonics: HarmonicDesign;
  /** All lobes that the angles see; null where they see none beside the offset. */
  readonly lobes: LobeDesign | null;
  /** Places of the fitted readings. */
  readonly fitted: readonly number[];
  /** Place of the first angle and of its repetition at 360 degrees, where there is one. */
  readonly closing: { readonly first: number; readonly last: number } | null;
};

/** What an indicator sweep of one section says, µm. */
export type SweepFit = {
  /** Centre of the section from the axis of rotation, towards 12 and towards 3 o'clock. */
  readonly towards12Um: number;
  readonly towards3Um: number;
  readonly offsetUm: number;
  readonly offsetPositionDeg: number;
  /** Standard error of a centre component; null where the readings leave no freedom. */
  readonly standardErrorUm: number | null;
  readonly fit: HarmonicFit;
  /** Lobes from order 2 up, as many as the angles see: more than the fit keeps for the sake of its residuals. */
  readonly lobes: readonly SweepLobe[];
  readonly closingErrorUm: number | null;
  readonly closes: boolean | null;
};

/**
 * Order of the harmonics fitted to k distinct angles: at least two degrees of freedom remain from k = 5 on.
 *
 * @param k - number of distinct angles, >= 3
 */
export function sweepOrder(k: number): number {
  return Math.max(1, Math.floor((k - 3) / 2));
}

/**
 * Design of an indicator sweep at given angles; 360 degrees repeats 0 and closes the sweep.
 *
 * @param anglesDeg - number[k], degrees clockwise from 12 in [0, 360], distinct
 * @returns the design; not estimable with fewer than three distinct angles
 * @throws CoreError duplicate on an angle that is there twice; not-finite, out-of-range on one outside [0, 360]
 */
export function designSweep(anglesDeg: readonly number[]): Estimate<SweepDesign> {
  const seen = new Set<number>();
  for (const angle of anglesDeg) {
    if (!Number.isFinite(angle) || angle < 0 || angle > 360)
      throw new CoreError("out-of-range", `designSweep: anglesDeg must lie in 0 to 360; got ${angle}`, { angle });
    if (seen.has(angle))
      throw new CoreError("duplicate", `designSweep: anglesDeg must be distinct; got ${angle} twice`, { angle });
    seen.add(angle);
  }
  const first = anglesDeg.indexOf(0);
  const last = anglesDeg.indexOf(360);
  const closing = first >= 0 && last >= 0 ? { first, last } : null;
  const fitted = anglesDeg.map((_, place) => place).filter((place) => closing === null || place !== last);
  if (fitted.length < 3)
    return { ok: false, reason: `a sweep needs three different angles; there are ${fitted.length}` };
  const orders = Array.from({ length: sweepOrder(fitted.length) }, (_, i) => i + 1);
  const design = designHarmonics(
    fitted.map((place) => anglesDeg[place]!),
    orders,
  );
  if (!design.ok) return design;
  const lobes = designLobes(fitted.map((place) => anglesDeg[place]!));
  return { ok: true, value: { harmonics: design.value, lobes, fitted, closing }, warnings: [] };
}

/**
 * Offset, ovality and lobes of one section from an indicator sweep.
 *
 * @param design - from designSweep
 * @param readingsUm - number[k], µm, in the order of the design's angles, growing with the distance from the axis, any zero
 * @param closingLimitUm - largest closing error that is accepted
 */
export function fitSweep(
  design: SweepDesign,
  readingsUm: ArrayLike<number>,
  closingLimitUm = DEFAULT_CLOSING_LIMIT_UM,
): SweepFit {
  const values = new Float64Array(design.fitted.length);
  for (let i = 0; i < design.fitted.length; i += 1) values[i] = readingsUm[design.fitted[i]!]!;
  const fit = fitHarmonics(design.harmonics, values, SWEEP_NOISE_UM);
  const offset = fit.harmonics[0]!;
  const closingErrorUm =
    design.closing === null ? null : readingsUm[design.closing.last]! - readingsUm[design.closing.first]!;
  return {
    towards12Um: offset.cos,
    towards3Um: offset.sin,
    offsetUm: offset.amplitude,
    offsetPositionDeg: offset.positionDeg,
    standardErrorUm: offset.standardError,
    fit,
    lobes: design.lobes === null ? [] : sweepLobes(design.lobes, values),
    closingErrorUm,
    closes: closingErrorUm === null ? null : Math.abs(closingErrorUm) <= closingLimitUm,
  };
}

/**
 * Indicator sweep of one section in one call: design and fit. A reading that stands twice with the same value counts once.
 *
 * @param anglesDeg - number[k], degrees clockwise from 12 in [0, 360]
 * @param readingsUm - number[k], µm, finite
 * @returns the fit; not estimable with fewer than three distinct angles
 * @throws CoreError length-mismatch; not-finite; duplicate where one angle has two different readings
 * Accuracy: 1e-9 mm on synthetic seats; the printed digits of tests/reference/geometry.json (synthetic-12).
 */
export function measureSweep(anglesDeg: readonly number[], readingsUm: readonly number[]): Estimate<SweepFit> {
  if (anglesDeg.length !== readingsUm.length)
    throw new CoreError(
      "length-mismatch",
      `measureSweep: readingsUm must be as many as anglesDeg; got ${readingsUm.length} for ${anglesDeg.length}`,
    );
  const byAngle = new Map<number, number>();
  anglesDeg.forEach((angle, i) => {
    const reading = readingsUm[i]!;
    if (!Number.isFinite(reading))
      throw new CoreError("not-finite", `measureSweep: readingsUm must be finite; got ${reading} (at index ${i})`);
    const before = byAngle.get(angle);
    if (before !== undefined && before !== reading)
      throw new CoreError(
        "duplicate",
        `measureSweep: angle ${angle} must have one reading; got ${before} and ${reading}`,
      );
    byAngle.set(angle, reading);
  });
  const design = designSweep([...byAngle.keys()]);
  if (!design.ok) return design;
  return { ok: true, value: fitSweep(design.value, [...byAngle.values()]), warnings: [] };
}
