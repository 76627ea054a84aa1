import { BORE_RANDOM_UM, type BoreDesign } from "./bore-seat";
import { FACE_NOISE_UM, type FaceDesign } from "./face-sweep";
import { coverageOf, designFrame, type FrameDesigns } from "./frame-designs";
import { largestComponentVariance } from "./harmonic-fit";
import { fullPlan } from "./measuring-plan";
import type { ReadingName, Seat } from "./reading-name";
import { type FormAllowance, formAllowance, unseenOf } from "./plan-blindness";
import { CHARACTERISTIC_UNIT, type CharacteristicName, type ShellDrawing } from "./shell-drawing";
import { WIDTH_STANDARD_UM } from "./shell-width";
import { SWEEP_NOISE_UM } from "./sweep-harmonics";
import type { SweptSeatDesign } from "./swept-seat";

/** Standard uncertainties of one two-point size that all readings of a seat have in common, µm (shop budget, invented for the demonstration). */
export const RING_UM = 0.75;
export const INDICATOR_UM = 1.732;
export const TEMPERATURE_UM = 1.717;

/**
 * Standard uncertainty of the datum axis, µm: how far one of its sections lies beside the other, in each direction
 * (invented for the demonstration). Over the distance of the datum's sections it is an uncertain direction.
 */
export const DATUM_SECTION_UM = 0.23;

const ARCMIN_PER_MILLIRAD = (180 * 60) / Math.PI / 1000;

/**
 * Standard uncertainty of the mean of n two-point sizes, µm: u^2 = random^2 / n + ring^2 + indicator^2 + temperature^2.
 *
 * @param n - number of sizes, >= 1; 1 is a single size, and the smallest or largest of several
 * Source: GUM 5.1.2; components invented for the demonstration.
 */
export function sizeStandardUncertaintyUm(n: number): number {
  return Math.hypot(BORE_RANDOM_UM / Math.sqrt(n), RING_UM, INDICATOR_UM, TEMPERATURE_UM);
}

/**
 * Standard uncertainty of ovality, µm. What the readings have in common cancels: the difference of two sizes has
 * sqrt(2) random; 4 A2 has 2 random sqrt(variance of a component), from two directions sqrt(2 / 2).
 */
function ovalityUm(bore: BoreDesign): number {
  const factors = bore.sections
    .filter((section) => section.indices.length >= 2)
    .map((section) =>
      section.harmonics === null
        ? 2
        : Math.max(Math.SQRT2, 2 * Math.sqrt(largestComponentVariance(section.harmonics, 2))),
    );
  return BORE_RANDOM_UM * Math.max(...factors);
}

/** One two-point size, or the smallest and largest by the fitted oval where its part of U is larger. */
function sizeUm(bore: BoreDesign): number {
  const variance = Math.max(...bore.sections.map((section) => section.fittedVariance));
  return Math.hypot(BORE_RANDOM_UM * Math.sqrt(variance), RING_UM, INDICATOR_UM, TEMPERATURE_UM);
}

function taperUm(bore: BoreDesign): number {
  const shallowest = bore.sections[0]!.indices.length;
  const deepest = bore.sections[bore.sections.length - 1]!.indices.length;
  return BORE_RANDOM_UM * Math.sqrt(1 / shallowest + 1 / deepest);
}

/** Variance of a centre component of each swept section about the axis of rotation, µm^2. */
export function sectionVariancesUm2(design: SweptSeatDesign): number[] {
  return design.sections.map((section) =>
    section.sweep === null ? Infinity : SWEEP_NOISE_UM ** 2 * largestComponentVariance(section.sweep.harmonics, 1),
  );
}

function spread(xs: readonly number[]): { mid: number; squares: number } {
  const mid = xs.reduce((sum, x) => sum + x, 0) / xs.length;
  return { mid, squares: xs.reduce((sum, x) => sum + (x - mid) ** 2, 0) };
}

/** Middle and reach of the datum's sections, mm; a datum with one section is taken as its half depth long. */
export function datumReach(design: SweptSeatDesign, drawing: ShellDrawing): { mid: number; length: number } {
  const xs = design.datum.map((section) => section.xMm);
  const length = Math.max(...xs) - Math.min(...xs);
  return { mid: spread(xs).mid, length: length > 0 ? length : drawing.seatDepthMm / 2 };
}

/** u(zone) = 2 sqrt(section variance + (datum x lever)^2), the section with the largest; lever = distance / datum length. */
function coaxialityUm(design: SweptSeatDesign, drawing: ShellDrawing): number {
  const datum = datumReach(design, drawing);
  const variances = sectionVariancesUm2(design);
  return Math.max(
    ...design.sections.map((section, i) => {
      const lever = Math.abs(section.xMm - datum.mid) / datum.length;
      return 2 * Math.sqrt(variances[i]! + (DATUM_SECTION_UM * lever) ** 2);
    }),
  );
}

/**
 * Tilt of the swept seat to the common axis: slope through its sections minus slope of the line of mid-points. The datum's
 * direction turns both and cancels.
 */
function sweptTiltMillirad(design: SweptSeatDesign, drawing: ShellDrawing): number {
  const xs = design.sections.map((section) => section.xMm);
  const { mid, squares } = spread(xs);
  const baseline = mid - datumReach(design, drawing).mid;
  const variances = sectionVariancesUm2(design);
  const own = xs.reduce((sum, x, i) => {
    const weight = (x - mid) / squares - 1 / (xs.length * baseline);
    return sum + weight * weight * variances[i]!;
  }, 0);
  return Math.sqrt(own);
}

/** The part of the datum seat's tilt that comes from the swept mid-point at the far end. */
function midPointTiltMillirad(design: SweptSeatDesign, drawing: ShellDrawing): number {
  const n = design.sections.length;
  const baseline = spread(design.sections.map((section) => section.xMm)).mid - datumReach(design, drawing).mid;
  const midVariance = sectionVariancesUm2(design).reduce((sum, variance) => sum + variance, 0) / (n * n);
  return Math.sqrt(midVariance) / Math.abs(baseline);
}

/** Tilt of the datum seat to the common axis: direction of the datum axis, and the swept mid-point at the far end. */
function datumTiltMillirad(design: SweptSeatDesign, drawing: ShellDrawing): number {
  return Math.hypot(midPointTiltMillirad(design, drawing), DATUM_SECTION_UM / datumReach(design, drawing).length);
}

function faceUm(face: FaceDesign, drawing: ShellDrawing): number {
  if (face.harmonics === null) return Infinity;
  const ratio = drawing.faceLimitDiameterMm / drawing.faceSweepDiameterMm;
  return 2 * FACE_NOISE_UM * Math.sqrt(largestComponentVariance(face.harmonics, 1)) * ratio;
}

/** Standard uncertainty of the angle between the seats' axes, mrad: what moves faces against widths. */
export function betweenSeatsMillirad(design: SweptSeatDesign, drawing: ShellDrawing): number {
  return Math.hypot(sweptTiltMillirad(design, drawing), datumTiltMillirad(design, drawing));
}

/**
 * Standard uncertainty of a characteristic from the budget and the designs of a plan (k = 1): sizes and form µm, tilt
 * arc minutes. The plan must be able to give the characteristic.
 */
export function budgetOf(
  designs: FrameDesigns,
  drawing: ShellDrawing,
  name: CharacteristicName,
  seat: Seat | null,
): number {
  const bore = seat === null ? null : designs.bores[seat];
  const face = seat === null ? null : designs.faces[seat];
  const [primary] = designs.swept;
  switch (name) {
    case "bore":
      return bore === null ? Infinity : sizeUm(bore);
    case "ovality":
      return bore === null ? Infinity : ovalityUm(bore);
    case "taper":
      return bore === null ? Infinity : taperUm(bore);
    case "coaxiality": {
      const design = designs.swept.find(({ swept }) => swept === seat);
      return design === undefined ? Infinity : coaxialityUm(design, drawing);
    }
    case "tilt": {
      if (primary === undefined) return Infinity;
      const tilt = primary.swept === seat ? sweptTiltMillirad : datumTiltMillirad;
      return tilt(primary, drawing) * ARCMIN_PER_MILLIRAD;
    }
    case "face run-out":
      return face === null ? Infinity : faceUm(face, drawing);
    case "width":
      return WIDTH_STANDARD_UM;
  }
}

/**
 * Standard uncertainty of a characteristic for unit noise of each of its bore or sweep readings: sizes and form µm per µm, tilt arc
 * minutes per µm. 0 for what rests on other readings.
 */
export function noiseShare(
  designs: FrameDesigns,
  drawing: ShellDrawing,
  name: CharacteristicName,
  seat: Seat | null,
): number {
  const bore = seat === null ? null : designs.bores[seat];
  const [primary] = designs.swept;
  switch (name) {
    case "bore":
      return bore === null ? 0 : Math.sqrt(Math.max(...bore.sections.map((section) => section.fittedVariance)));
    case "ovality":
      return bore === null ? 0 : ovalityUm(bore) / BORE_RANDOM_UM;
    case "taper":
      return bore === null ? 0 : taperUm(bore) / BORE_RANDOM_UM;
    case "coaxiality": {
      const design = designs.swept.find(({ swept }) => swept === seat);
      return design === undefined ? 0 : (2 * Math.sqrt(Math.max(...sectionVariancesUm2(design)))) / SWEEP_NOISE_UM;
    }
    case "tilt": {
      if (primary === undefined) return 0;
      const tilt = primary.swept === seat ? sweptTiltMillirad : midPointTiltMillirad;
      return (tilt(primary, drawing) * ARCMIN_PER_MILLIRAD) / SWEEP_NOISE_UM;
    }
    case "face run-out":
    case "width":
      return 0;
  }
}

/** U of one characteristic under a plan, in the characteristic's unit. */
export type PlanUncertainty = {
  readonly name: CharacteristicName;
  readonly seat: Seat | null;
  /** Expanded uncertainty U (k = 2). */
  readonly uncertainty: number;
  /** The part of it by what the plan cannot see, k = 2; 0 for the full plan. */
  readonly unseen: number;
};

/** The seat of the full plan that has the same part: swept or datum. */
function counterpart(designs: FrameDesigns, name: CharacteristicName, seat: Seat | null): Seat | null {
  if (name !== "coaxiality" && name !== "tilt") return seat;
  if (name === "coaxiality") return "nds";
  return designs.swept[0]?.swept === seat ? "nds" : "ds";
}

/** A standard uncertainty in µm or arc minutes in the characteristic's own unit. */
function inUnit(name: CharacteristicName, standard: number): number {
  return CHARACTERISTIC_UNIT[name] === "mm" ? standard / 1000 : standard;
}

/**
 * U per characteristic for designs that are made already.
 *
 * @param form - how far the form may go that the plan does not see
 */
export function uncertaintyOfDesigns(
  designs: FrameDesigns,
  drawing: ShellDrawing,
  form: FormAllowance = formAllowance(drawing),
): PlanUncertainty[] {
  const full = designFrame(fullPlan(drawing), drawing);
  return coverageOf(designs).flatMap(({ name, seat, reason }) => {
    const characteristic = drawing.characteristics.find((candidate) => candidate.name === name);
    if (reason !== null || characteristic === undefined) return [];
    const fullBudget = budgetOf(full, drawing, name, counterpart(designs, name, seat));
    const ratio = Number.isFinite(fullBudget) ? budgetOf(designs, drawing, name, seat) / fullBudget : 1;
    const seen = characteristic.uncertainty * ratio;
    const unseen = 2 * inUnit(name, unseenOf({ designs, drawing, form }, name, seat));
    return [{ name, seat, uncertainty: unseen > 0 ? Math.hypot(seen, unseen) : seen, unseen }];
  });
}

/**
 * U (k = 2) of each characteristic that a plan can give: the drawing's U for its full plan, scaled by the ratio of the
 * budgets of this plan and of the full plan, so that the full plan gives exactly the drawing's table; with what this plan
 * does not see and the full plan does.
 *
 * @param names - readings of the plan
 * @param form - how far the form may go: of the stream's full plans, else of the drawing's limits
 * @returns one entry per characteristic and seat, in the characteristic's unit
 * @throws CoreError duplicate, out-of-range on wrong names
 * Source: GUM (closed form, linear); components invented for the demonstration.
 */
export function planUncertainty(
  drawing: ShellDrawing,
  names: readonly ReadingName[],
  form?: FormAllowance,
): PlanUncertainty[] {
  return uncertaintyOfDesigns(designFrame(names, drawing), drawing, form);
}
