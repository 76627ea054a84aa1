import type { BoreMeasurement } from "./bore-seat";
import { FACE_NOISE_UM, type FaceMeasurement } from "./face-sweep";
import type { FrameDesigns } from "./frame-designs";
import { largestComponentVariance } from "./harmonic-fit";
import type { Seat } from "./reading-name";
import type { ShellDrawing } from "./shell-drawing";
import { WIDTH_STANDARD_UM, type WidthMeasurement } from "./shell-width";
import { SWEEP_NOISE_UM } from "./sweep-harmonics";
import type { SweptSeatDesign, SweptSeatMeasurement } from "./swept-seat";
import { betweenSeatsMillirad } from "./uncertainty-budget";

/** Doubt about readings; it changes no verdict. `value` and `limit` are µm, for a reversed sweep degrees. */
export type MeasurementWarning = {
  readonly code:
    "sweep-not-closed" | "sweep-outlier" | "sweep-maybe-reversed" | "face-outlier" | "width-disagrees-with-faces";
  readonly seat: Seat | null;
  readonly depthMm: number | null;
  readonly readingIndex: number | null;
  readonly value: number;
  readonly limit: number | null;
};

/** Number of standard errors that count as a real difference between two directions (common practice, no source). */
const REVERSED_STANDARD_ERRORS = 3;

/**
 * Number of standard uncertainties between faces and widths that mean a misreading: the difference is a vector of two
 * components, of which chance exceeds 3 once in ninety frames.
 */
const WIDTH_STANDARD_UNCERTAINTIES = 3;

const RADIAN_IN_DEGREES = 180 / Math.PI;

/** Doubts about each swept section: closing error and outlier. */
export function sweepWarnings(
  design: SweptSeatDesign,
  measured: SweptSeatMeasurement,
  values: readonly (number | null)[],
  closingLimitUm: number,
): MeasurementWarning[] {
  const warnings: MeasurementWarning[] = [];
  measured.sections.forEach((section, place) => {
    const { fit, depthMm } = section;
    if (fit === null) return;
    const base = { seat: measured.swept, depthMm };
    if (fit.closes === false && fit.closingErrorUm !== null)
      warnings.push({
        ...base,
        code: "sweep-not-closed",
        readingIndex: null,
        value: fit.closingErrorUm,
        limit: closingLimitUm,
      });
    if (fit.fit.outlier !== null) {
      const plan = design.sections[place]!;
      const closed = plan.indices.some((index, i) => plan.anglesDeg[i] === 0 && values[index] !== null);
      const present = plan.indices.filter(
        (index, i) => values[index] !== null && !(closed && plan.anglesDeg[i] === 360),
      );
      warnings.push({
        ...base,
        code: "sweep-outlier",
        readingIndex: present[fit.fit.outlier.index] ?? null,
        value: fit.fit.outlier.deviation,
        limit: null,
      });
    }
  });
  return warnings;
}

/** How far the oval of a sweep lies from that of the diameters, as keyed and as if keyed the other way round, degrees. */
type OvalComparison = { readonly asKeyed: number; readonly mirrored: number; readonly limit: number };

/** Degrees between two positions of an oval, which repeats every half turn. */
function ovalApart(a: number, b: number): number {
  const apart = (((a - b) % 180) + 180) % 180;
  return Math.min(apart, 180 - apart);
}

/**
 * Compares the 2nd harmonic of a sweep with that of the diameters of the same section. Standard errors come from the
 * residuals, at least from the known noise of one reading.
 *
 * @param place - place of the section in the design
 * @returns null where one of the two is lacking or does not stand clear of noise
 */
function compareOvals(
  design: SweptSeatDesign,
  measured: SweptSeatMeasurement,
  bore: BoreMeasurement | null,
  place: number,
): OvalComparison | null {
  const section = measured.sections[place];
  const diameters = bore?.sections.find(({ depthMm }) => depthMm === section?.depthMm)?.secondHarmonic ?? null;
  const swept = section?.fit?.fit.harmonics.find(({ order }) => order === 2) ?? null;
  const harmonics = design.sections[place]?.sweep?.harmonics;
  if (diameters === null || swept === null || harmonics === undefined || !harmonics.orders.includes(2)) return null;
  const known = SWEEP_NOISE_UM * Math.sqrt(largestComponentVariance(harmonics, 2));
  const error = Math.max(swept.standardError ?? 0, known);
  const clear =
    swept.amplitude > REVERSED_STANDARD_ERRORS * error &&
    diameters.amplitudeUm > REVERSED_STANDARD_ERRORS * diameters.standardErrorUm;
  if (!clear) return null;
  const errorDeg =
    Math.hypot(error / swept.amplitude, diameters.standardErrorUm / diameters.amplitudeUm) * (RADIAN_IN_DEGREES / 2);
  return {
    asKeyed: ovalApart(swept.positionDeg, diameters.positionDeg),
    mirrored: ovalApart(-swept.positionDeg, diameters.positionDeg),
    limit: REVERSED_STANDARD_ERRORS * errorDeg,
  };
}

/**
 * Suspects a sweep that was keyed the wrong way round: its 2nd harmonic and that of the diameters of the same section
 * differ in clock position by more than 3 standard errors, and both stand clear of noise.
 */
export function reversedSweepWarnings(
  design: SweptSeatDesign,
  measured: SweptSeatMeasurement,
  bore: BoreMeasurement | null,
): MeasurementWarning[] {
  return measured.sections.flatMap(({ depthMm }, place): MeasurementWarning[] => {
    const ovals = compareOvals(design, measured, bore, place);
    if (ovals === null || ovals.asKeyed <= ovals.limit) return [];
    const { asKeyed: value, limit } = ovals;
    return [{ code: "sweep-maybe-reversed", seat: measured.swept, depthMm, readingIndex: null, value, limit }];
  });
}

/** A swept section whose readings cannot tell which way round they were keyed, with the first two angles of its plan. */
export type UnseenDirection = {
  readonly seat: Seat;
  readonly depthMm: number;
  readonly firstDeg: readonly [number, number];
};

/**
 * Sections of which somebody has to confirm the first two angles: the ovals do not stand clear
 * of noise, or lie so that either way round would fit.
 */
export function unseenDirections(
  design: SweptSeatDesign,
  measured: SweptSeatMeasurement,
  bore: BoreMeasurement | null,
): UnseenDirection[] {
  return measured.sections.flatMap(({ depthMm, fit }, place): UnseenDirection[] => {
    const [first, second] = design.sections[place]?.anglesDeg ?? [];
    if (fit === null || first === undefined || second === undefined) return [];
    const ovals = compareOvals(design, measured, bore, place);
    if (ovals !== null && Math.max(ovals.asKeyed, ovals.mirrored) > ovals.limit) return [];
    return [{ seat: measured.swept, depthMm, firstDeg: [first, second] }];
  });
}

/**
 * Largest plausible difference, µm, between the tilt of the width and that of both faces on the sweep circle; null where
 * the plan cannot compare them (a face, three widths or the tilt of the seats is lacking).
 */
export function widthCheckLimitUm(designs: FrameDesigns, drawing: ShellDrawing): number | null {
  const { ds, nds } = designs.faces;
  const [swept] = designs.swept;
  const width = designs.width?.harmonics ?? null;
  if (!ds?.harmonics || !nds?.harmonics || width === null || swept === undefined || swept.sections.length < 2)
    return null;
  const faces = largestComponentVariance(ds.harmonics, 1) + largestComponentVariance(nds.harmonics, 1);
  const tilt = betweenSeatsMillirad(swept, drawing) * (drawing.faceSweepDiameterMm / 2);
  const variance =
    WIDTH_STANDARD_UM ** 2 * largestComponentVariance(width, 1) + FACE_NOISE_UM ** 2 * faces + tilt * tilt;
  return Number.isFinite(variance) ? WIDTH_STANDARD_UNCERTAINTIES * Math.sqrt(variance) : null;
}

/**
 * Compares the first harmonic of the width with what both faces and the tilt between the seats' axes foretell (A5). A
 * face square to an axis with slope t lies at x = -t r, so width = DS face + NDS face - slope x radius, all outwards.
 */
export function widthAgainstFaces(
  width: WidthMeasurement | null,
  faces: Readonly<Record<Seat, FaceMeasurement | null>>,
  swept: SweptSeatMeasurement | undefined,
  check: { readonly limitUm: number | null; readonly radiusMm: number },
): MeasurementWarning[] {
  const { ds, nds } = faces;
  if (check.limitUm === null || width === null || ds === null || nds === null || swept === undefined) return [];
  if (width.towards12Um === null || width.towards3Um === null || swept.slope12 === null || swept.slope3 === null)
    return [];
  const sign = swept.swept === "nds" ? 1 : -1;
  const foretold12 = ds.towards12Um + nds.towards12Um - sign * swept.slope12 * check.radiusMm;
  const foretold3 = ds.towards3Um + nds.towards3Um - sign * swept.slope3 * check.radiusMm;
  const value = Math.hypot(width.towards12Um - foretold12, width.towards3Um - foretold3);
  if (value <= check.limitUm) return [];
  return [
    {
      code: "width-disagrees-with-faces",
      seat: null,
      depthMm: null,
      readingIndex: null,
      value,
      limit: check.limitUm,
    },
  ];
}
