import { CoreError } from "../errors";

/** Groove radius over ball diameter of both raceways where the maker says nothing (Harris, from memory). */
export const USUAL_GROOVE_FACTOR = 0.52;

/** Inside of a deep groove ball bearing, mm; groove factors are groove radius / ball diameter, over 0.5. */
export type BallBearingGeometry = {
  readonly ballDiameterMm: number;
  readonly pitchDiameterMm: number;
  readonly innerGrooveFactor: number;
  readonly outerGrooveFactor: number;
};

/** Free tilt of the inner to the outer ring to either side, by the approximate and by the exact formula. */
export type FreeTilt = {
  readonly approximateRad: number;
  readonly exactRad: number;
  readonly approximateArcmin: number;
  readonly exactArcmin: number;
};

const ARCMIN_PER_RAD = 10800 / Math.PI;

/**
 * Free angle of misalignment of a deep groove ball bearing at an operating clearance: how far the rings tilt to one side
 * before balls and grooves bind.
 * Formula: approximate theta = (2 / d_m) sqrt(P_d ((2f - 1) D_b - P_d / 4)); exact theta = theta_i + theta_o with
 * cos theta_i = 1 - P_d ((2 f_i - 1) D_b - P_d / 4) / (2 d_m (d_m + (2 f_i - 1) D_b - P_d / 2)) and
 * cos theta_o = 1 - P_d ((2 f_o - 1) D_b - P_d / 4) / (2 d_m (d_m - (2 f_o - 1) D_b + P_d / 2));
 * P_d clearance (full radial play), D_b ball and d_m pitch diameter, f groove factor (approximate: the mean of both)
 *
 * @param bearing - BallBearingGeometry, mm
 * @param clearanceMm - operating clearance (full radial play), mm; 0 or less leaves no free tilt
 * @returns angles, rad and arc minutes, >= 0
 * @throws CoreError not-finite; out-of-range for a geometry that cannot be, or a clearance over what the grooves allow
 * Method: 1 - cos as 2 sin^2 of the half, since the angles are small
 * Source: T. A. Harris, Rolling Bearing Analysis, chapter 2 (from memory)
 */
export function freeTilt(bearing: BallBearingGeometry, clearanceMm: number): FreeTilt {
  const { ballDiameterMm, pitchDiameterMm, innerGrooveFactor, outerGrooveFactor } = bearing;
  const numbers = [ballDiameterMm, pitchDiameterMm, innerGrooveFactor, outerGrooveFactor, clearanceMm];
  if (!numbers.every(Number.isFinite))
    throw new CoreError("not-finite", `freeTilt: bearing and clearance must be finite; got ${numbers.join(", ")}`);
  if (
    !(ballDiameterMm > 0) ||
    !(pitchDiameterMm > ballDiameterMm) ||
    !(innerGrooveFactor > 0.5) ||
    !(outerGrooveFactor > 0.5)
  )
    throw new CoreError(
      "out-of-range",
      `freeTilt: ball must be > 0, pitch over the ball and groove factors over 0.5; got ${numbers.join(", ")}`,
    );
  if (clearanceMm <= 0) return tiltOf(0, 0);
  const innerPlay = (2 * innerGrooveFactor - 1) * ballDiameterMm;
  const outerPlay = (2 * outerGrooveFactor - 1) * ballDiameterMm;
  if (clearanceMm >= mostClearanceMm(bearing))
    throw new CoreError(
      "out-of-range",
      `freeTilt: clearanceMm must be below four times the play in the grooves; got ${clearanceMm}`,
      { clearanceMm },
    );
  const meanPlay = (innerPlay + outerPlay) / 2;
  const approximate = (2 / pitchDiameterMm) * Math.sqrt(clearanceMm * (meanPlay - clearanceMm / 4));
  const angle = (play: number, arm: number) =>
    2 * Math.asin(Math.sqrt((clearanceMm * (play - clearanceMm / 4)) / (4 * pitchDiameterMm * arm)));
  const inner = angle(innerPlay, pitchDiameterMm + innerPlay - clearanceMm / 2);
  const outer = angle(outerPlay, pitchDiameterMm - outerPlay + clearanceMm / 2);
  return tiltOf(approximate, inner + outer);
}

/** Clearance (full radial play) at which a ball no longer touches its groove beside the middle, mm: four times the play in it. */
export function mostClearanceMm({ ballDiameterMm, innerGrooveFactor, outerGrooveFactor }: BallBearingGeometry): number {
  return 4 * (2 * Math.min(innerGrooveFactor, outerGrooveFactor) - 1) * ballDiameterMm;
}

function tiltOf(approximateRad: number, exactRad: number): FreeTilt {
  return {
    approximateRad,
    exactRad,
    approximateArcmin: approximateRad * ARCMIN_PER_RAD,
    exactArcmin: exactRad * ARCMIN_PER_RAD,
  };
}

/**
 * Pitch diameter of a bearing from its outside dimensions, mm: halfway between bore and outside.
 * Source: estimate (from memory): (d + D) / 2
 */
export function pitchDiameterMm(boreMm: number, outsideDiameterMm: number): number {
  return (boreMm + outsideDiameterMm) / 2;
}
