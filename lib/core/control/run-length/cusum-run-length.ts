import { CoreError } from "../../errors";
import { normalCdf, normalDensity, normalSf } from "../../distributions/normal";
import { absorptionTimes } from "../../numerics/absorption-times";
import { panelGrid } from "../../numerics/panel-grid";

export type CusumDesign = Readonly<{
  /** Reference value in sigma, >= 0. */
  k: number;
  /** Decision interval in sigma, above 0, at most 100. */
  h: number;
  /** Head start as a fraction of h, 0 <= headStart < 1. */
  headStart?: number;
}>;

/** Panels are three sigma wide or less: the kernel is the normal density itself. */
const PANEL_WIDTH = 3;
const LARGEST_INTERVAL = 100;

/**
 * Mean run length of a one-sided (upper) CUSUM on independent normal values.
 * Formula: L(u) = 1 + L(0) F(k - u - shift) + integral 0..h of L(y) f(y + k - u - shift) dy.
 *
 * @param design - k, h, headStart in sigma
 * @param shift - mean of the values in sigma from the target, finite; for the lower side pass -shift
 * @returns mean number of points to the signal from the head start, >= 1
 * @throws CoreError out-of-range for a design or shift outside its range; not-converged where the chart practically never
 *   signals
 * Method: Nystrom solution on Gauss-Legendre panels with an atom at zero, solved without subtraction: the digits stay
 *   however long the run length is.
 * Accuracy: 8 digits on tests/reference/ewma-cusum-run-length.json, 10 on tests/reference/long-run-lengths.json
 * Source: Goel and Wu 1971, Technometrics 13(2) 221-230; Brook and Evans 1972, Biometrika 59 539-549
 * @example cusumRunLengthOneSided({ k: 0.5, h: 5 }) // 930.887
 */
export function cusumRunLengthOneSided(design: CusumDesign, shift = 0): number {
  const solution = solveCusum(design, shift);
  return solution.from((design.headStart ?? 0) * design.h);
}

/**
 * Mean run length of a two-sided tabular CUSUM on independent normal values.
 * Formula: 1 / L = 1 / L+ + 1 / L- from zero; with head starts
 * L = (L+(s) L-(0) + L+(0) L-(s) - L+(0) L-(0)) / (L+(0) + L-(0)).
 *
 * @param design - k, h, headStart in sigma
 * @param shift - mean of the values in sigma from the target, finite
 * @returns mean number of points to the first signal on either side
 * @throws CoreError out-of-range for a design or shift outside its range; not-converged where neither side ever signals
 * Accuracy: exact where both sums cannot be positive together at a signal; all printed digits of
 *   tests/reference/ewma-cusum-run-length.json
 * Source: Kemp 1961, Journal of the Royal Statistical Society B 23 149-153; Lucas and Crosier 1982, Technometrics 24(3)
 * @example cusumRunLength({ k: 0.5, h: 4 }) // 167.684
 */
export function cusumRunLength(design: CusumDesign, shift = 0): number {
  const start = (design.headStart ?? 0) * design.h;
  const upper = solveOrIdle(design, shift);
  const lower = solveOrIdle(design, -shift);
  // A side that never signals leaves the other alone.
  if (upper === null || lower === null) return (upper ?? lower ?? solveCusum(design, shift)).from(start);
  const [up0, low0] = [upper.from(0), lower.from(0)];
  if (start === 0) return 1 / (1 / up0 + 1 / low0);
  // Divided through by up0 low0, so that a huge run length of the idle side cannot overflow.
  return (upper.from(start) / up0 + lower.from(start) / low0 - 1) / (1 / up0 + 1 / low0);
}

/** One side, or null where it practically never signals. */
function solveOrIdle(design: CusumDesign, shift: number) {
  try {
    return solveCusum(design, shift);
  } catch (error) {
    if (error instanceof CoreError && error.code === "not-converged") return null;
    throw error;
  }
}

function solveCusum({ k, h, headStart = 0 }: CusumDesign, shift: number) {
  if (!(k >= 0 && k < Infinity) || !(h > 0 && h <= LARGEST_INTERVAL) || !(headStart >= 0 && headStart < 1)) {
    throw new CoreError(
      "out-of-range",
      `cusumRunLength: k must be >= 0, h above 0 and at most ${LARGEST_INTERVAL}, headStart from 0 to below 1; got ${k}, ${h} and ${headStart}`,
      { k, h, headStart },
    );
  }
  if (!Number.isFinite(shift)) {
    throw new CoreError("out-of-range", `cusumRunLength: shift must be finite; got ${shift}`, { shift });
  }
  const grid = panelGrid([0, h], Math.min(PANEL_WIDTH, h / 2));
  const at = [0, ...grid.at];
  const weights = [0, ...grid.weights];
  const size = at.length;
  const chance = (from: number, col: number) =>
    col === 0 ? normalCdf(k - from - shift) : weights[col]! * normalDensity(at[col]! + k - from - shift);
  const transitions = new Float64Array(size * size);
  for (let row = 0; row < size; row++) {
    for (let col = 0; col < size; col++) transitions[row * size + col] = chance(at[row]!, col);
  }
  const exits = Float64Array.from(at, (from) => normalSf(h + k - from - shift));
  const lengths = absorptionTimes(transitions, exits);
  const from = (sum: number) => {
    let total = 1;
    for (let col = 0; col < size; col++) total += chance(sum, col) * lengths[col]!;
    return total;
  };
  return { from };
}
