import { bearingMisalignment } from "../core/fit/bearing-misalignment";
import { freeTilt, mostClearanceMm, pitchDiameterMm, USUAL_GROOVE_FACTOR } from "../core/fit/bearing-tilt";
import { fitInterference, type SizeLimits, sizeLimits } from "../core/fit/fit-interference";
import { runningClearance } from "../core/fit/running-clearance";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import {
  type CarriedPart,
  type ClearanceMeaning,
  type FitMeaning,
  given,
  notEstimable,
  type SeatFit,
  type SeatTilt,
  type TiltMeaning,
} from "./meaning";

/** Settings of the bearing estimates. */
export type BearingSettings = {
  /** Groove radius over ball diameter. */
  readonly grooveFactor: number;
  /** The maker's permissible tilt, arc minutes, which wins over the free tilt; null where none is known. */
  readonly makerTiltArcmin: number | null;
  /** Interference of the bearing in its cup, µm. */
  readonly bearingInCupUm: readonly [least: number, most: number];
  /** How much warmer than 20 C everything is taken, K. */
  readonly warmerByK: number;
};

export const USUAL_BEARING_SETTINGS: BearingSettings = {
  grooveFactor: USUAL_GROOVE_FACTOR,
  makerTiltArcmin: null,
  bearingInCupUm: [0, 0],
  warmerByK: 0,
};

export type BearingMeanings = {
  readonly fit: FitMeaning;
  readonly clearance: ClearanceMeaning;
  readonly tilt: TiltMeaning;
};

/** Limits of what goes into the seat: the cup where there is one, else the bearing. */
export function carriedLimits(drawing: ShellDrawing): SizeLimits {
  const { cup, bearing } = drawing.carries;
  return cup === null
    ? sizeLimits(bearing.outsideDiameterMm, bearing.outsideDeviationUm)
    : sizeLimits(cup.outsideDiameterMm, cup.outsideDeviationUm);
}

export function carriedPart(drawing: ShellDrawing): CarriedPart {
  return drawing.carries.cup === null ? "bearing" : "cup";
}

/**
 * Fit, running clearance and tilt of the bearing in one seat.
 *
 * @param tiltUncertaintyArcmin - U of the seat's tilt
 * @throws CoreError where the drawing's dimensions cannot be
 */
export function bearingMeanings(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  tiltUncertaintyArcmin: number,
  settings: BearingSettings,
): BearingMeanings {
  const fit = fitMeaning(drawing, measurement, seat);
  const clearance = clearanceMeaning(drawing, seat, fit, settings);
  return {
    fit,
    clearance,
    tilt: tiltMeaning(drawing, measurement, seat, { clearance, tiltUncertaintyArcmin, settings }),
  };
}

function fitMeaning(drawing: ShellDrawing, measurement: FrameMeasurement, seat: Seat): FitMeaning {
  const limits = carriedLimits(drawing);
  const asked = { code: "fit", seat, part: carriedPart(drawing), limits } as const;
  const bore = measurement.bores[seat];
  if (bore === null) return { ...asked, ...notEstimable({ code: "no-diameters", seat: null }) };
  const count = bore.sections.reduce((sum, section) => sum + section.count, 0);
  const fit = fitInterference(limits, { leastMm: bore.meanMm, mostMm: bore.meanMm });
  const value: SeatFit = { ...fit, seatMeanMm: bore.meanMm, part: limits };
  return { ...asked, ...given(value, { value: 2 * sizeStandardUncertaintyUm(count), unit: "µm" }) };
}

function clearanceMeaning(
  drawing: ShellDrawing,
  seat: Seat,
  fit: FitMeaning,
  settings: BearingSettings,
): ClearanceMeaning {
  const { bearing, cup } = drawing.carries;
  const { shellMaterial: material, shellOutsideDiameterMm: outsideDiameterMm } = drawing;
  const { designation, clearanceClass, clearanceUm } = bearing;
  const asked = {
    code: "clearance",
    seat,
    bearing: { designation, clearanceClass, clearanceUm },
    inCupUm: cup === null ? null : settings.bearingInCupUm,
    shell: { material: material.name, outsideDiameterMm },
    warmerByK: settings.warmerByK,
  } as const;
  if (!fit.result.ok) return { ...asked, ...notEstimable(fit.result.reason) };
  const { leastUm, mostUm } = fit.result.value;
  const value = runningClearance({
    bearing,
    clearanceUm,
    cup,
    shell: { outsideDiameterMm, material },
    interferenceUm: [leastUm, mostUm],
    bearingInCupUm: settings.bearingInCupUm,
    warmerByK: settings.warmerByK,
  });
  const meanInterference = (leastUm + mostUm) / 2;
  const perUm = meanInterference > 0 ? value.loss.meanUm / meanInterference : 0;
  return { ...asked, ...given(value, { value: perUm * (fit.uncertainty?.value ?? 0), unit: "µm" }) };
}

function tiltMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  by: {
    readonly clearance: ClearanceMeaning;
    readonly tiltUncertaintyArcmin: number;
    readonly settings: BearingSettings;
  },
): TiltMeaning {
  const { bearing } = drawing.carries;
  const { ballDiameterMm } = bearing;
  const { grooveFactor, makerTiltArcmin } = by.settings;
  const asked = { code: "tilt", seat, ballDiameterMm, grooveFactor, makerTiltArcmin } as const;
  const feature = measurement.features[`${seat}.tilt`];
  if (feature.value === null) return { ...asked, ...notEstimable({ code: "not-given", why: feature.reason }) };
  const { result: clearance } = by.clearance;
  if (!clearance.ok && makerTiltArcmin === null) return { ...asked, ...notEstimable(clearance.reason) };
  const geometry = {
    ballDiameterMm,
    pitchDiameterMm: pitchDiameterMm(bearing.boreMm, bearing.outsideDiameterMm),
    innerGrooveFactor: grooveFactor,
    outerGrooveFactor: grooveFactor,
  };
  const free = (um: number) => freeTilt(geometry, um / 1000).exactArcmin;
  const band = clearance.ok ? clearance.value.clearance : { minUm: 0, meanUm: 0, maxUm: 0 };
  if (!(band.maxUm / 1000 < mostClearanceMm(geometry)))
    return { ...asked, ...notEstimable({ code: "clearance-beyond-grooves" }) };
  const freeBandArcmin = [free(band.minUm), free(band.meanUm), free(band.maxUm)] as const;
  const value: SeatTilt = { ...bearingMisalignment(feature.value, freeBandArcmin[1], makerTiltArcmin), freeBandArcmin };
  return { ...asked, ...given(value, { value: by.tiltUncertaintyArcmin, unit: "arcmin" }) };
}
