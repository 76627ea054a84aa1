import { CoreError } from "../errors";
import type { SeededGenerator } from "../numerics/seeded-generator";
import { alignToAxis } from "./coaxiality";
import type { Axis, SectionCentre } from "./seat-axis";
import type { ShellDrawing } from "./shell-drawing";
import { SWEEP_NOISE_UM } from "./sweep-harmonics";
import type { SweptSeatDesign } from "./swept-seat";
import { DATUM_SECTION_UM, datumReach } from "./uncertainty-budget";

/** Result of drawing a feature many times. */
export type DrawnFeature = {
  readonly mean: number;
  /** Standard uncertainty: standard deviation of the draws. */
  readonly standardUncertainty: number;
  /** Standard error of that standard deviation, for draws that are near normal. */
  readonly standardError: number;
};

/** Coaxiality µm, tilts arc minutes (null where one section gives none). */
export type MonteCarloAlignment = {
  readonly draws: number;
  readonly coaxiality: DrawnFeature;
  readonly tiltSwept: DrawnFeature | null;
  readonly tiltDatum: DrawnFeature | null;
};

/** Mean, standard deviation and its standard error of drawn values. */
export function summariseDraws(values: Float64Array): DrawnFeature {
  let mean = 0;
  let squares = 0;
  for (let i = 0; i < values.length; i += 1) {
    const delta = values[i]! - mean;
    mean += delta / (i + 1);
    squares += delta * (values[i]! - mean);
  }
  const variance = squares / (values.length - 1);
  let fourth = 0;
  for (let i = 0; i < values.length; i += 1) fourth += (values[i]! - mean) ** 4;
  fourth /= values.length;
  // Standard error of a standard deviation from the fourth moment, so that it holds for skewed draws too.
  const ofVariance = Math.sqrt(Math.max(fourth - variance * variance, 0) / values.length);
  const sd = Math.sqrt(variance);
  return { mean, standardUncertainty: sd, standardError: sd > 0 ? ofVariance / (2 * sd) : 0 };
}

/** Errors of the section centres for one draw: noise of every reading through the fit, µm. */
function drawCentres(
  design: SweptSeatDesign,
  centres: readonly SectionCentre[],
  generator: SeededGenerator,
): SectionCentre[] {
  return design.sections.map((section, place) => {
    const { anglesDeg, inverse } = section.sweep!.harmonics;
    const k = anglesDeg.length;
    let y = 0;
    let z = 0;
    for (let i = 0; i < k; i += 1) {
      const noise = SWEEP_NOISE_UM * generator.normal();
      y += inverse[k + i]! * noise;
      z += inverse[2 * k + i]! * noise;
    }
    const centre = centres[place]!;
    return { xMm: centre.xMm, yMm: centre.yMm + y / 1000, zMm: centre.zMm + z / 1000 };
  });
}

/**
 * Uncertainty of coaxiality and tilt by Monte Carlo: every sweep reading gets its noise, the datum axis an uncertain
 * direction about its middle, and the alignment is computed anew (GUM Supplement 1).
 *
 * @param design - swept seat of a plan; every section must have a sweep
 * @param drawing - the shell drawing
 * @param options.centres - section centres about which to draw, in the order of design.sections, mm
 * @param options.draws - number of draws, >= 100
 * @param options.generator - seeded
 * @returns mean, standard uncertainty (k = 1) and its standard error
 * @throws CoreError too-few-values on fewer than 100 draws; length-mismatch; degenerate on a section without a sweep
 * Accuracy: agrees with the closed form within 3 standard errors where one section decides
 * (tests/core/metrology/monte-carlo-uncertainty.test.ts).
 * Source: JCGM 101:2008.
 */
export function monteCarloUncertainty(
  design: SweptSeatDesign,
  drawing: ShellDrawing,
  options: {
    readonly centres: readonly SectionCentre[];
    readonly draws: number;
    readonly generator: SeededGenerator;
  },
): MonteCarloAlignment {
  const { centres, draws, generator } = options;
  if (!(draws >= 100))
    throw new CoreError("too-few-values", `monteCarloUncertainty: draws must be at least 100; got ${draws}`, { draws });
  if (centres.length !== design.sections.length)
    throw new CoreError("length-mismatch", "monteCarloUncertainty: centres must be one per swept section", {
      expected: design.sections.length,
      got: centres.length,
    });
  if (design.sections.some((section) => section.sweep === null))
    throw new CoreError("degenerate", "monteCarloUncertainty: every section must have a sweep", {});
  const { mid, length } = datumReach(design, drawing);
  const zone = new Float64Array(draws);
  const tiltSwept = new Float64Array(draws);
  const tiltDatum = new Float64Array(draws);
  const withTilt = design.sections.length > 1;
  for (let draw = 0; draw < draws; draw += 1) {
    const measured = drawCentres(design, centres, generator);
    const slopeY = (DATUM_SECTION_UM * generator.normal()) / 1000 / length;
    const slopeZ = (DATUM_SECTION_UM * generator.normal()) / 1000 / length;
    const norm = Math.hypot(1, slopeY, slopeZ);
    const axis: Axis = {
      point: { xMm: mid, yMm: 0, zMm: 0 },
      direction: [1 / norm, slopeY / norm, slopeZ / norm],
    };
    const datum = [axis.point];
    const alignment = alignToAxis(datum, axis, measured);
    zone[draw] = alignment.zoneToDatumMm * 1000;
    tiltSwept[draw] = alignment.tiltMeasuredArcmin ?? 0;
    tiltDatum[draw] = alignment.tiltDatumArcmin ?? 0;
  }
  return {
    draws,
    coaxiality: summariseDraws(zone),
    tiltSwept: withTilt ? summariseDraws(tiltSwept) : null,
    tiltDatum: withTilt ? summariseDraws(tiltDatum) : null,
  };
}
