import { formatFixed } from "../format/number-text";
import { type BearingMisalignment, bearingMisalignment } from "../core/fit/bearing-misalignment";
import { freeTilt, mostClearanceMm, pitchDiameterMm, USUAL_GROOVE_FACTOR } from "../core/fit/bearing-tilt";
import { type FitInterference, fitInterference, type SizeLimits, sizeLimits } from "../core/fit/fit-interference";
import { type RunningClearance, runningClearance } from "../core/fit/running-clearance";
import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { Seat } from "../core/metrology/reading-name";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { sizeStandardUncertaintyUm } from "../core/metrology/uncertainty-budget";
import { arcminText, type Meaning, meaningOf, notEstimable, rangeUm, wholeUm } from "./meaning";

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

/** Interference of the part that a seat carries, and what the bearing does in it. */
export type SeatFit = FitInterference & { readonly seatMeanMm: number; readonly part: SizeLimits };

/** Tilt of a bearing against what it takes over the band of its running clearance, arc minutes. */
export type SeatTilt = BearingMisalignment & {
  readonly freeBandArcmin: readonly [min: number, mean: number, max: number];
};

export type BearingMeanings = {
  readonly fit: Meaning<SeatFit>;
  readonly clearance: Meaning<RunningClearance>;
  readonly tilt: Meaning<SeatTilt>;
};

const NAME = { ds: "DS", nds: "NDS" } as const satisfies Record<Seat, string>;

/** Limits of what goes into the seat: the cup where there is one, else the bearing. */
export function carriedLimits(drawing: ShellDrawing): SizeLimits {
  const { cup, bearing } = drawing.carries;
  return cup === null
    ? sizeLimits(bearing.outsideDiameterMm, bearing.outsideDeviationUm)
    : sizeLimits(cup.outsideDiameterMm, cup.outsideDeviationUm);
}

/** "cup" or "bearing". */
export function carriedName(drawing: ShellDrawing): "cup" | "bearing" {
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

function fitMeaning(drawing: ShellDrawing, measurement: FrameMeasurement, seat: Seat): Meaning<SeatFit> {
  const part = carriedLimits(drawing);
  const name = carriedName(drawing);
  const wording = {
    title: `Fit, ${NAME[seat]}`,
    explanation: `Smallest and largest size of the ${name} less the mean size of the seat (ISO 286).`,
    assumptions: [
      `${name} anywhere within ø ${formatFixed(part.leastMm, 3)} to ${formatFixed(part.mostMm, 3)} mm`,
      "part and shell at one temperature",
    ],
  };
  const bore = measurement.bores[seat];
  if (bore === null) return notEstimable(wording, "the seat's diameters were not measured");
  const count = bore.sections.reduce((sum, section) => sum + section.count, 0);
  const fit = fitInterference(part, { leastMm: bore.meanMm, mostMm: bore.meanMm });
  const value: SeatFit = { ...fit, seatMeanMm: bore.meanMm, part };
  const words =
    fit.mostUm <= 0
      ? `Clearance ${NAME[seat]} ${rangeUm(-fit.mostUm, -fit.leastUm)}`
      : `Interference ${NAME[seat]} ${rangeUm(fit.leastUm, fit.mostUm)}`;
  return meaningOf(wording, value, {
    figure: `${name} ø ${formatFixed(part.leastMm, 3)} to ${formatFixed(part.mostMm, 3)}`,
    sentence: fit.kind === "transition" ? `${words}: some will be loose.` : `${words}.`,
    uncertainty: { value: 2 * sizeStandardUncertaintyUm(count), unit: "µm" },
  });
}

function clearanceMeaning(
  drawing: ShellDrawing,
  seat: Seat,
  fit: Meaning<SeatFit>,
  settings: BearingSettings,
): Meaning<RunningClearance> {
  const { bearing, cup } = drawing.carries;
  const inCup = cup === null ? [] : [`bearing in its cup ${rangeUm(...settings.bearingInCupUm)} tight before mounting`];
  const wording = {
    title: `Running clearance, ${NAME[seat]}`,
    explanation:
      "Radial internal clearance (ISO 5753-1) less the contraction of the outer raceway by the press fit (Lamé), between the shell's own wall and an endless wall.",
    assumptions: [
      `bearing ${bearing.designation}, ${bearing.clearanceClass} ${bearing.clearanceUm[0]} to ${bearing.clearanceUm[1]} µm`,
      ...inCup,
      `shell ${drawing.shellMaterial.name}, outside ø ${drawing.shellOutsideDiameterMm} mm`,
      settings.warmerByK === 0 ? "at 20 °C" : `${settings.warmerByK} K over 20 °C`,
      "inner ring's fit on the axle takes nothing",
    ],
  };
  if (!fit.result.ok) return notEstimable(wording, fit.result.reason);
  const { leastUm, mostUm } = fit.result.value;
  const value = runningClearance({
    bearing,
    clearanceUm: bearing.clearanceUm,
    cup,
    shell: { outsideDiameterMm: drawing.shellOutsideDiameterMm, material: drawing.shellMaterial },
    interferenceUm: [leastUm, mostUm],
    bearingInCupUm: settings.bearingInCupUm,
    warmerByK: settings.warmerByK,
  });
  const { minUm, meanUm, maxUm } = value.clearance;
  const meanInterference = (leastUm + mostUm) / 2;
  const perUm = meanInterference > 0 ? value.loss.meanUm / meanInterference : 0;
  const mean = meanUm >= 0.5 ? `+${wholeUm(meanUm)}` : wholeUm(meanUm);
  const words = { "runs free": "free", drags: "drags", preloaded: "preloaded" } as const;
  return meaningOf(wording, value, {
    figure: `${words[value.verdict]}, ${mean}`,
    sentence: `${NAME[seat]} ${value.verdict}: ${rangeUm(minUm, maxUm)}, mean ${mean} µm.`,
    uncertainty: { value: perUm * (fit.uncertainty?.value ?? 0), unit: "µm" },
  });
}

function tiltMeaning(
  drawing: ShellDrawing,
  measurement: FrameMeasurement,
  seat: Seat,
  given: {
    readonly clearance: Meaning<RunningClearance>;
    readonly tiltUncertaintyArcmin: number;
    readonly settings: BearingSettings;
  },
): Meaning<SeatTilt> {
  const { bearing } = drawing.carries;
  const { grooveFactor, makerTiltArcmin } = given.settings;
  const wording = {
    title: `Angle in the bearing, ${NAME[seat]}`,
    explanation:
      "Tilt of the seat to the line through both bearing centres, against the free tilt of the bearing at its mean running clearance (Harris, exact form).",
    assumptions:
      makerTiltArcmin === null
        ? [`ball ø ${bearing.ballDiameterMm} mm, groove factor ${grooveFactor}`, "no clearance, no free tilt"]
        : ["the maker's permissible tilt"],
  };
  const feature = measurement.features[`${seat}.tilt`];
  if (feature.value === null) return notEstimable(wording, feature.reason);
  const { clearance } = given;
  if (!clearance.result.ok && makerTiltArcmin === null) return notEstimable(wording, clearance.result.reason);
  const geometry = {
    ballDiameterMm: bearing.ballDiameterMm,
    pitchDiameterMm: pitchDiameterMm(bearing.boreMm, bearing.outsideDiameterMm),
    innerGrooveFactor: grooveFactor,
    outerGrooveFactor: grooveFactor,
  };
  const free = (um: number) => freeTilt(geometry, um / 1000).exactArcmin;
  const band = clearance.result.ok ? clearance.result.value.clearance : { minUm: 0, meanUm: 0, maxUm: 0 };
  if (!(band.maxUm / 1000 < mostClearanceMm(geometry)))
    return notEstimable(wording, "the running clearance is larger than the grooves hold");
  const freeBandArcmin = [free(band.minUm), free(band.meanUm), free(band.maxUm)] as const;
  const value: SeatTilt = { ...bearingMisalignment(feature.value, freeBandArcmin[1], makerTiltArcmin), freeBandArcmin };
  const takes = makerTiltArcmin === null ? "free" : "allowed";
  return meaningOf(wording, value, {
    figure: arcminText(value.tiltArcmin),
    sentence:
      value.verdict === "within"
        ? `${NAME[seat]} ${arcminText(value.tiltArcmin)} of ${arcminText(value.allowedArcmin)} ${takes}.`
        : value.allowedArcmin === 0
          ? `${NAME[seat]} ${arcminText(value.tiltArcmin)}, and without clearance the bearing takes none.`
          : `${NAME[seat]} ${arcminText(value.tiltArcmin)}, only ${arcminText(value.allowedArcmin)} ${takes}.`,
    uncertainty: { value: given.tiltUncertaintyArcmin, unit: "arcmin" },
  });
}
