import { CoreError } from "../../errors";
import { normalCdf, normalDensity, normalSf } from "../../distributions/normal";
import { absorptionTimes } from "../../numerics/absorption-times";
import { panelCount, panelGrid, type QuadratureGrid } from "../../numerics/panel-grid";

export type EwmaDesign = Readonly<{
  /** Weight of the newest value, 0.002 to 1. */
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

/** Panels are six deviations of a step wide or less: the kernel is the normal density of that deviation. */
const PANEL_WIDTH = 6;
const MAX_PANELS = 50;
/** Deviations of a step beyond which the kernel carries nothing. */
const KERNEL_REACH = 9;
const SMALLEST_WEIGHT = 0.002;
/** Deviations of the average below the target that a one-sided chart still follows. */
const ONE_SIDED_REACH = 9;
/** Share of the final variance at which widening limits count as constant: 1e-9 of the run length. */
const FINAL_LIMIT = 1e-8;

/**
 * Mean run length of an EWMA chart on independent normal values.
 * Formula: L(u) = 1 + integral over the limits of L(y) f((y - (1 - lambda) u) / lambda - shift) / lambda dy.
 *
 * @param design - weight (0.002 to 1), width, kind of limits; all in sigma of a value about the target
 * @param shift - mean of the values in sigma from the target, finite
 * @returns mean number of points to the signal, >= 1
 * @throws CoreError out-of-range for a design or shift outside its range, limits that span more than 300 deviations of a
 *   step, or a start outside the limits; not-converged where the chart practically never signals
 * Method: Nystrom solution on Gauss-Legendre panels, solved without subtraction: the digits stay however long the run length
 *   is. Limits that widen are followed backwards from the asymptotic solution, each step on its own nodes. A one-sided chart
 *   ends at 9 standard deviations of the average.
 * Accuracy: all printed digits of tests/reference/ewma-cusum-run-length.json, 6 digits of its recomputation; 10 digits on
 *   tests/reference/long-run-lengths.json
 * Source: Crowder 1987, Technometrics 29(4) 401-407; Lucas and Saccucci 1990, Technometrics 32(1) 1-12
 * @example ewmaRunLength({ lambda: 0.2, width: 2.962 }) // 499.735
 */
export function ewmaRunLength(design: EwmaDesign, shift = 0): number {
  const { lambda, width, limits = "asymptotic", sides = "both", start = 0 } = design;
  if (!(lambda >= SMALLEST_WEIGHT && lambda <= 1) || !(width > 0 && width < Infinity)) {
    throw new CoreError(
      "out-of-range",
      `ewmaRunLength: lambda must be from ${SMALLEST_WEIGHT} to 1, width > 0; got ${lambda} and ${width}`,
      { lambda, width },
    );
  }
  if (!Number.isFinite(shift) || !Number.isFinite(start)) {
    throw new CoreError("out-of-range", `ewmaRunLength: shift and start must be finite; got ${shift} and ${start}`);
  }
  const sd = Math.sqrt(lambda / (2 - lambda));
  const rangeAt = (share: number): Range => {
    const half = width * sd * Math.sqrt(share);
    // Without a limit the average is followed down to where shifted values, or the start, no longer reach.
    const reach = (lowest: number) => ONE_SIDED_REACH * sd + Math.max(0, -lowest);
    if (sides === "upper") return [-reach(Math.min(shift, start)), half];
    if (sides === "lower") return [-half, reach(-Math.max(shift, start))];
    return [-half, half];
  };
  const kernel: Kernel = { keep: 1 - lambda, step: lambda, drift: lambda * shift };
  const final = gridOn(rangeAt(1), lambda);
  let grid = final;
  let lengths = solveOn(final, rangeAt(1), kernel, sides);
  if (limits === "exact") {
    const decay = (1 - lambda) ** 2;
    const last = decay === 0 ? 1 : Math.ceil(Math.log(FINAL_LIMIT) / Math.log(decay));
    for (let t = last; t >= 1; t--) {
      const earlier = gridOn(rangeAt(1 - decay ** t), lambda);
      lengths = earlier.at.map((from) => expected(from, grid, lengths, kernel));
      grid = earlier;
    }
  } else if (start < rangeAt(1)[0] || start > rangeAt(1)[1]) {
    throw new CoreError("out-of-range", `ewmaRunLength: start must lie within the limits; got ${start}`, { start });
  }
  return expected(start, grid, lengths, kernel);
}

type Range = readonly [low: number, high: number];
/** One step of the average: keep times its value, plus a normal variate of mean drift and deviation step. */
type Kernel = Readonly<{ keep: number; step: number; drift: number }>;

function gridOn(range: Range, step: number): QuadratureGrid {
  if (panelCount(range, PANEL_WIDTH * step) > MAX_PANELS) {
    throw new CoreError(
      "out-of-range",
      `ewmaRunLength: the limits must span at most ${MAX_PANELS * PANEL_WIDTH} deviations of a step: take a larger lambda or a smaller width`,
      { range, step },
    );
  }
  return panelGrid(range, PANEL_WIDTH * step);
}

/** Mean run lengths from the nodes of a grid on for limits that stay. */
function solveOn(
  { at, weights }: QuadratureGrid,
  [low, high]: Range,
  kernel: Kernel,
  sides: "both" | "upper" | "lower",
) {
  const { keep, step, drift } = kernel;
  const n = at.length;
  const transitions = new Float64Array(n * n);
  const exits = new Float64Array(n);
  for (let row = 0; row < n; row++) {
    const mean = keep * at[row]! + drift;
    for (let col = 0; col < n; col++) {
      transitions[row * n + col] = (weights[col]! * normalDensity((at[col]! - mean) / step)) / step;
    }
    const above = sides === "lower" ? 0 : normalSf((high - mean) / step);
    const below = sides === "upper" ? 0 : normalCdf((low - mean) / step);
    exits[row] = above + below;
  }
  return absorptionTimes(transitions, exits);
}

/** 1 + mean run length after the next step, from a value of the average. */
function expected(
  from: number,
  { at, weights }: QuadratureGrid,
  lengths: Float64Array,
  { keep, step, drift }: Kernel,
): number {
  const mean = keep * from + drift;
  const reach = KERNEL_REACH * step;
  let sum = 0;
  for (let col = 0; col < at.length; col++) {
    const distance = at[col]! - mean;
    if (distance > reach) break;
    if (distance > -reach) sum += weights[col]! * normalDensity(distance / step) * lengths[col]!;
  }
  return 1 + sum / step;
}
