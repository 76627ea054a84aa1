import { CoreError } from "../../errors";
import { noncentralChiDensity } from "../../distributions/noncentral-chi";
import { absorptionTimes } from "../../numerics/absorption-times";
import { brentRoot } from "../../numerics/brent-root";
import { panelGrid } from "../../numerics/panel-grid";
import { type MewmaDesign, mewmaShiftedRunLength } from "./mewma-shifted-run-length";

/** Panels are five deviations of a step wide or less. */
const PANEL_WIDTH = 5;
/** Deviations of a step beyond the limit that the chance to leave is summed over. */
const OUTER_REACH = 12;

/**
 * Mean run length of a multivariate EWMA chart on independent normal vectors, from an average of zero on.
 * Formula: L(z) = 1 + integral over |y| <= h of L(y) f((y - (1 - lambda) z) / lambda - shift) / lambda^p dy,
 * h^2 = limit lambda / (2 - lambda); by symmetry L depends on |z| without a shift, on |z| and the angle to it with one.
 *
 * @param design - see MewmaDesign
 * @param shift - length of the mean's shift in standard deviations (root of mu' S^-1 mu), >= 0
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError out-of-range; not-converged where the chart practically never signals
 * Method: without a shift Nystrom solution on Gauss-Legendre panels of the length, solved without subtraction; with one see
 *   mewmaShiftedRunLength.
 * Accuracy: all printed digits of the published tables in tests/reference/mewma-run-length.json, 9 digits on
 *   tests/reference/long-run-lengths.json
 * Source: Rigdon 1995, Journal of Statistical Computation and Simulation 52 351-365; Rigdon 1995, Statistics and
 *   Probability Letters 24 365-373; Prabhu and Runger 1997, Journal of Quality Technology 29(1) 8-15
 * @example mewmaRunLength({ dimensions: 2, lambda: 0.1, limit: 8.64 }) // 200
 */
export function mewmaRunLength(design: MewmaDesign, shift = 0): number {
  const { dimensions, lambda, limit } = design;
  assertWeight("mewmaRunLength", dimensions, lambda);
  if (!(limit > 0 && limit <= 100)) {
    throw new CoreError("out-of-range", `mewmaRunLength: limit must be above 0 and at most 100; got ${limit}`);
  }
  if (!(shift >= 0 && shift <= 20)) {
    throw new CoreError("out-of-range", `mewmaRunLength: shift must be from 0 to 20; got ${shift}`, { shift });
  }
  return shift === 0 ? inControl(design) : mewmaShiftedRunLength(design, shift);
}

/**
 * Limit of a multivariate EWMA chart with a given weight and run length without a shift.
 *
 * @param dimensions - p, integer from 2 to 10
 * @param lambda - weight, 0.02 to 1
 * @param runLength - mean run length without a shift, 10 to 100,000
 * @returns limit of the statistic
 * @throws CoreError out-of-range
 * @example mewmaLimitFor(2, 0.1, 200) // 8.63
 */
export function mewmaLimitFor(dimensions: number, lambda: number, runLength: number): number {
  assertWeight("mewmaLimitFor", dimensions, lambda);
  if (!(runLength >= 10 && runLength <= 1e5)) {
    throw new CoreError("out-of-range", `mewmaLimitFor: runLength must be from 10 to 100,000; got ${runLength}`);
  }
  const excess = (limit: number) => Math.log(inControl({ dimensions, lambda, limit }) / runLength);
  let high = dimensions + 4;
  while (excess(high) < 0 && high < 150) high *= 1.4;
  return brentRoot(excess, 0.05, high, 1e-10);
}

function assertWeight(name: string, dimensions: number, lambda: number): void {
  if (!Number.isInteger(dimensions) || dimensions < 2 || dimensions > 10) {
    throw new CoreError("out-of-range", `${name}: dimensions must be an integer from 2 to 10; got ${dimensions}`);
  }
  if (!(lambda >= 0.02 && lambda <= 1)) {
    throw new CoreError("out-of-range", `${name}: lambda must be from 0.02 to 1; got ${lambda}`, { lambda });
  }
}

function inControl({ dimensions, lambda, limit }: MewmaDesign): number {
  const reach = Math.sqrt((limit * lambda) / (2 - lambda));
  const density = noncentralChiDensity(dimensions);
  const chance = (from: number, to: number) => density(to / lambda, ((1 - lambda) * from) / lambda) / lambda;
  const { at, weights } = panelGrid([0, reach], PANEL_WIDTH * lambda);
  const n = at.length;
  const transitions = new Float64Array(n * n);
  const exits = new Float64Array(n);
  const outside = panelGrid([reach, reach + OUTER_REACH * lambda], PANEL_WIDTH * lambda);
  for (let row = 0; row < n; row++) {
    for (let col = 0; col < n; col++) transitions[row * n + col] = weights[col]! * chance(at[row]!, at[col]!);
    outside.at.forEach((to, col) => (exits[row]! += outside.weights[col]! * chance(at[row]!, to)));
  }
  const lengths = absorptionTimes(transitions, exits);
  return 1 + lengths.reduce((sum, length, col) => sum + weights[col]! * chance(0, at[col]!) * length, 0);
}
