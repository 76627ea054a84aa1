import { CoreError } from "../errors";
import { normalDensity } from "../distributions/normal";
import { gaussLegendreRule } from "../numerics/gauss-legendre";
import { solveLinear } from "../numerics/solve-linear";

export type EwmaDesign = Readonly<{
  /** Weight of the newest value, 0 < lambda <= 1. */
  lambda: number;
  /** Half width of the limits in standard deviations of the average, > 0. */
  width: number;
  /** exact: limits that widen from the first point; asymptotic (default): those of a long series. */
  limits?: "exact" | "asymptotic";
  /** Sides on which there is a limit; both by default. */
  sides?: "both" | "upper" | "lower";
  /** Start of the average in sigma of a value from the target, 0 by default. */
  start?: number;
}>;

/** Nodes of the rule; the kernel's standard deviation is lambda and the range 2 width sqrt(lambda / (2 - lambda)). */
const NODES = 96;
/** Deviations of the average below the target that a one-sided chart still follows. */
const ONE_SIDED_REACH = 9;
/** Share of the final variance at which widening limits count as constant. */
const FINAL_LIMIT = 1e-12;

/**
 * Mean run length of an EWMA chart on independent normal values.
 * Formula: L(u) = 1 + integral over the limits of L(y) f((y - (1 - lambda) u) / lambda - shift) / lambda dy.
 *
 * @param design - weight, width, kind of limits; all in sigma of a value about the target
 * @param shift - mean of the values in sigma from the target, finite
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError out-of-range for a design or shift outside its range, or a start outside the limits
 * Method: Nystrom solution on 96 Gauss-Legendre nodes; limits that widen are followed backwards from the asymptotic
 *   solution, each step on its own nodes. A one-sided chart ends at 9 standard deviations of the average.
 * Accuracy: all printed digits of tests/reference/ewma-cusum-run-length.json, 6 digits of its recomputation
 * Source: Crowder 1987, Technometrics 29(4) 401-407; Lucas and Saccucci 1990, Technometrics 32(1) 1-12
 * @example ewmaRunLength({ lambda: 0.2, width: 2.962 }) // 499.735
 */
export function ewmaRunLength(design: EwmaDesign, shift = 0): number {
  const { lambda, width, limits = "asymptotic", sides = "both", start = 0 } = design;
  if (!(lambda > 0 && lambda <= 1) || !(width > 0 && width < Infinity)) {
    throw new CoreError(
      "out-of-range",
      `ewmaRunLength: lambda must be above 0 and at most 1, width > 0; got ${lambda} and ${width}`,
      { lambda, width },
    );
  }
  if (!Number.isFinite(shift) || !Number.isFinite(start)) {
    throw new CoreError("out-of-range", `ewmaRunLength: shift and start must be finite; got ${shift} and ${start}`);
  }
  const sd = Math.sqrt(lambda / (2 - lambda));
  const rangeAt = (share: number): [number, number] => {
    const half = width * sd * Math.sqrt(share);
    // Without a limit the average is followed down to where the shifted values no longer reach.
    const reach = ONE_SIDED_REACH * sd + Math.abs(shift);
    if (sides === "upper") return [-reach, half];
    if (sides === "lower") return [-half, reach];
    return [-half, half];
  };
  const { nodes, weights } = gaussLegendreRule(NODES);
  const mapped = (share: number) => {
    const [low, high] = rangeAt(share);
    const half = (high - low) / 2;
    return { at: nodes.map((node) => low + half * (node + 1)), weights: weights.map((weight) => weight * half) };
  };
  const density = (to: number, from: number) => normalDensity((to - (1 - lambda) * from) / lambda - shift) / lambda;
  const final = mapped(1);
  const matrix = new Float64Array(NODES * NODES);
  for (let row = 0; row < NODES; row++) {
    for (let col = 0; col < NODES; col++) {
      const kernel = final.weights[col]! * density(final.at[col]!, final.at[row]!);
      matrix[row * NODES + col] = (row === col ? 1 : 0) - kernel;
    }
  }
  let lengths = solveLinear(matrix, new Float64Array(NODES).fill(1));
  const expected = (from: number, next: typeof final, values: Float64Array) => {
    let sum = 1;
    for (let col = 0; col < NODES; col++) sum += next.weights[col]! * density(next.at[col]!, from) * values[col]!;
    return sum;
  };
  let grid = final;
  if (limits === "exact") {
    const decay = (1 - lambda) ** 2;
    const last = decay === 0 ? 1 : Math.ceil(Math.log(FINAL_LIMIT) / Math.log(decay));
    for (let t = last; t >= 1; t--) {
      const earlier = mapped(1 - decay ** t);
      lengths = earlier.at.map((from) => expected(from, grid, lengths));
      grid = earlier;
    }
  } else if (start < rangeAt(1)[0] || start > rangeAt(1)[1]) {
    throw new CoreError("out-of-range", `ewmaRunLength: start must lie within the limits; got ${start}`, { start });
  }
  return expected(start, grid, lengths);
}
