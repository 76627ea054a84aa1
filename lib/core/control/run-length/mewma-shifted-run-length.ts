import { noncentralChiDensity } from "../../distributions/noncentral-chi";
import { normalDensity } from "../../distributions/normal";
import { CoreError } from "../../errors";
import { lagrangeValues, legendrePlaces } from "../../numerics/lagrange-values";
import { panelGrid } from "../../numerics/panel-grid";
import { solveLinear } from "../../numerics/solve-linear";

export type MewmaDesign = Readonly<{
  /** Components p, integer from 2 to 10. */
  dimensions: number;
  /** Weight of the newest vector, 0.02 to 1. */
  lambda: number;
  /** Upper limit of the statistic with the asymptotic covariance of the average, > 0. */
  limit: number;
}>;

/** Places by distance and by angle at which the run length is held; it is smooth between them. */
const DISTANCES = 22;
const ANGLES = 20;
/** Panels of the integrals are five deviations of a step wide or less. */
const PANEL_WIDTH = 5;
/** Deviations of a step beyond which the kernel carries nothing. */
const KERNEL_REACH = 8.5;
/** A longer run length has lost its digits. */
const LONGEST = 1e9;

/**
 * Mean run length of a multivariate EWMA chart after a shift, from an average of zero on.
 * Formula: as mewmaRunLength; L depends on the distance of the average from the target and on its angle to the shift.
 *
 * @param design - see MewmaDesign
 * @param shift - length of the mean's shift in standard deviations, > 0
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError not-converged where the run length exceeds 1e9
 * Method: collocation at 22 x 20 Gauss-Legendre places of distance and angle; between them L is their polynomial, and the
 *   integrals are taken over panels as fine as the kernel asks for.
 */
export function mewmaShiftedRunLength({ dimensions, lambda, limit }: MewmaDesign, shift: number): number {
  const reach = Math.sqrt((limit * lambda) / (2 - lambda));
  const far = panelGrid([0, reach], PANEL_WIDTH * lambda);
  const round = panelGrid([0, Math.PI], (PANEL_WIDTH * lambda) / reach);
  const distances = legendrePlaces(0, reach, DISTANCES);
  const angles = legendrePlaces(0, Math.PI, ANGLES);
  const ofDistance = lagrangeValues(distances, far.at);
  const ofAngle = lagrangeValues(angles, round.at);
  const density = noncentralChiDensity(dimensions - 1);
  const cos = round.at.map(Math.cos);
  const sin = round.at.map(Math.sin);
  const keep = (1 - lambda) / lambda;

  /** Weights of L at all places in the integral of the kernel from a value of the average. */
  const weightsFrom = (fromAlong: number, fromAcross: number): Float64Array => {
    const [meanAlong, meanAcross] = [keep * fromAlong + shift, keep * fromAcross];
    const sums = new Float64Array(DISTANCES * ANGLES);
    const overAngle = new Float64Array(ANGLES);
    far.at.forEach((distance, i) => {
      const r = distance / lambda;
      overAngle.fill(0);
      let any = false;
      for (let j = 0; j < cos.length; j++) {
        const along = r * cos[j]! - meanAlong;
        const across = r * sin[j]!;
        if (along * along + (across - meanAcross) ** 2 > KERNEL_REACH * KERNEL_REACH) continue;
        any = true;
        const value = round.weights[j]! * normalDensity(along) * density(across, meanAcross);
        for (let a = 0; a < ANGLES; a++) overAngle[a]! += value * ofAngle[j * ANGLES + a]!;
      }
      if (!any) return;
      const scale = (far.weights[i]! * distance) / (lambda * lambda);
      for (let d = 0; d < DISTANCES; d++) {
        const share = scale * ofDistance[i * DISTANCES + d]!;
        for (let a = 0; a < ANGLES; a++) sums[d * ANGLES + a]! += share * overAngle[a]!;
      }
    });
    return sums;
  };

  const size = DISTANCES * ANGLES;
  const matrix = new Float64Array(size * size);
  distances.forEach((distance, d) =>
    angles.forEach((angle, a) => {
      const row = d * ANGLES + a;
      const weights = weightsFrom(distance * Math.cos(angle), distance * Math.sin(angle));
      for (let col = 0; col < size; col++) matrix[row * size + col] = (row === col ? 1 : 0) - weights[col]!;
    }),
  );
  const lengths = solveLinear(matrix, new Float64Array(size).fill(1));
  const mean = 1 + weightsFrom(0, 0).reduce((sum, weight, place) => sum + weight * lengths[place]!, 0);
  if (!(mean >= 1 && mean <= LONGEST)) {
    throw new CoreError("not-converged", `mewmaRunLength: the chart practically never signals: over ${LONGEST} points`);
  }
  return mean;
}
