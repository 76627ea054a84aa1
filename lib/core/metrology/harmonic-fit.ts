import { CoreError, type Estimate } from "../errors";
import { leastSquaresFactors } from "../numerics/least-squares";
import { outlierLimit } from "./outlier-limit";

/** A design for the harmonics of readings at fixed angles, made once and used for every frame. */
export type HarmonicDesign = {
  readonly anglesDeg: readonly number[];
  readonly orders: readonly number[];
  /** k x p, row-major: 1, cos, sin of each order. */
  readonly design: Float64Array;
  /** p x k. */
  readonly inverse: Float64Array;
  /** p x p, for unit variance of a reading. */
  readonly covariance: Float64Array;
  readonly degreesOfFreedom: number;
  /** The design by which an outlier is sought, or null where the freedom does not allow it. */
  readonly search: OutlierSearch | null;
};

/**
 * Search for an outlier with the lowest harmonic alone: higher ones would follow it. Real form adds to the scatter and only
 * makes the search less keen.
 */
export type OutlierSearch = {
  /** k x 3 and 3 x k. */
  readonly design: Float64Array;
  readonly inverse: Float64Array;
  readonly leverages: Float64Array;
  /** Degrees of freedom with one reading less. */
  readonly freedom: number;
  /** Limit of the externally studentised residual. */
  readonly limit: number;
};

/** One harmonic: cos and sin are towards 12 and towards 3 o'clock for order 1. */
export type Harmonic = {
  readonly order: number;
  readonly cos: number;
  readonly sin: number;
  readonly amplitude: number;
  /** Angle of the (first) high side, degrees clockwise from 12 in [0, 360 / order). */
  readonly positionDeg: number;
  /** Standard error of a component, or null without degrees of freedom. */
  readonly standardError: number | null;
};

/** Harmonics of one set of readings, in the unit of the readings. */
export type HarmonicFit = {
  readonly mean: number;
  readonly harmonics: readonly Harmonic[];
  readonly residuals: readonly number[];
  readonly residualSd: number | null;
  readonly degreesOfFreedom: number;
  /** Reading that does not fit the others: its place, and how far it lies from what the others foretell. */
  readonly outlier: { readonly index: number; readonly deviation: number } | null;
  /** False where an outlier cannot be found, since one reading less leaves no freedom. */
  readonly outlierDetectable: boolean;
};

const DEGREE = Math.PI / 180;

/** Cosine and sine of an angle in degrees, exact at the quarters, so that a column of zeros is one. */
function cosSinDeg(angleDeg: number): readonly [cos: number, sin: number] {
  const reduced = ((angleDeg % 360) + 360) % 360;
  if (reduced % 90 === 0) return QUARTERS[reduced / 90]!;
  return [Math.cos(reduced * DEGREE), Math.sin(reduced * DEGREE)];
}

const QUARTERS: readonly (readonly [cos: number, sin: number])[] = [
  [1, 0],
  [0, 1],
  [-1, 0],
  [0, -1],
  [1, 0],
];

/** Residuals below this share of the largest reading are rounding of the arithmetic, no scatter. */
const ROUNDING_SHARE = 1e-12;

function designMatrix(anglesDeg: readonly number[], orders: readonly number[]): Float64Array {
  const p = 1 + 2 * orders.length;
  const design = new Float64Array(anglesDeg.length * p);
  anglesDeg.forEach((angle, i) => {
    design[i * p] = 1;
    orders.forEach((order, j) => {
      const [cos, sin] = cosSinDeg(order * angle);
      design[i * p + 1 + 2 * j] = cos;
      design[i * p + 2 + 2 * j] = sin;
    });
  });
  return design;
}

/** One reading less must leave two degrees of freedom: with a single one even 0.5 mm is inside the limit. */
const SEARCH_FREEDOM_MIN = 2;

function designSearch(anglesDeg: readonly number[], orders: readonly number[]): OutlierSearch | null {
  const freedom = anglesDeg.length - 4;
  const limit = freedom < SEARCH_FREEDOM_MIN ? null : outlierLimit(anglesDeg.length, freedom);
  if (limit === null) return null;
  const design = designMatrix(anglesDeg, orders);
  const factors = leastSquaresFactors({ rows: anglesDeg.length, cols: 3, data: design });
  if (!factors.ok) return null;
  const { inverse, leverages } = factors.value;
  return { design, inverse: inverse.data, leverages, freedom, limit };
}

/**
 * Design of a least-squares fit of harmonics to readings at given angles (any spacing).
 *
 * @param anglesDeg - number[k], degrees, all finite
 * @param orders - harmonics to fit beside the mean, each an integer >= 1, distinct; k >= 1 + 2 x their number
 * @returns the design, or the reason why these angles cannot tell the harmonics apart
 * @throws CoreError not-finite on an angle that is not finite
 */
export function designHarmonics(anglesDeg: readonly number[], orders: readonly number[]): Estimate<HarmonicDesign> {
  if (!anglesDeg.every(Number.isFinite))
    throw new CoreError("not-finite", "designHarmonics: anglesDeg must be finite", { anglesDeg: [...anglesDeg] });
  const k = anglesDeg.length;
  const p = 1 + 2 * orders.length;
  if (k < p) return { ok: false, reason: `${k} readings are too few for ${p} unknowns` };
  const design = designMatrix(anglesDeg, orders);
  const factors = leastSquaresFactors({ rows: k, cols: p, data: design });
  if (!factors.ok) return { ok: false, reason: "the angles are too few or too alike to tell the harmonics apart" };
  return {
    ok: true,
    value: {
      anglesDeg: [...anglesDeg],
      orders: [...orders],
      design,
      inverse: factors.value.inverse.data,
      covariance: factors.value.covariance.data,
      degreesOfFreedom: k - p,
      search: designSearch(anglesDeg, orders.slice(0, 1)),
    },
    warnings: [],
  };
}

function toHarmonic(design: HarmonicDesign, place: number, coefficients: Float64Array, sd: number | null): Harmonic {
  const p = 1 + 2 * design.orders.length;
  const order = design.orders[place]!;
  const cos = coefficients[1 + 2 * place]!;
  const sin = coefficients[2 + 2 * place]!;
  const period = 360 / order;
  const position = Math.atan2(sin, cos) / DEGREE / order;
  const c = 1 + 2 * place;
  const variance = Math.max(design.covariance[c * p + c]!, design.covariance[(c + 1) * p + c + 1]!);
  return {
    order,
    cos,
    sin,
    amplitude: Math.hypot(cos, sin),
    positionDeg: position < 0 ? (position + period) % period : position,
    standardError: sd === null ? null : sd * Math.sqrt(variance),
  };
}

function findOutlier(
  search: OutlierSearch,
  values: ArrayLike<number>,
  smallestDeviation: number,
): HarmonicFit["outlier"] {
  const k = search.leverages.length;
  const { residuals, sumSquares } = solve(search.design, search.inverse, values, 3);
  let found: HarmonicFit["outlier"] = null;
  let worst = search.limit;
  for (let index = 0; index < k; index += 1) {
    const residual = residuals[index]!;
    const share = 1 - search.leverages[index]!;
    if (share < RESIDUAL_SHARE_MIN) continue;
    const deviation = residual / share;
    if (Math.abs(deviation) <= smallestDeviation) continue;
    const rest = Math.max(sumSquares - (residual * residual) / share, sumSquares * ROUNDING_SHARE);
    const studentised = Math.abs(residual) / Math.sqrt((rest / search.freedom) * share);
    if (studentised > worst) {
      worst = studentised;
      found = { index, deviation };
    }
  }
  return found;
}

type Solution = { readonly coefficients: Float64Array; readonly residuals: number[]; readonly sumSquares: number };

/** Coefficients and residuals of values from which the first is taken off, so that a large zero costs no digits. */
function solve(design: Float64Array, inverse: Float64Array, values: ArrayLike<number>, p: number): Solution {
  const k = design.length / p;
  const zero = values[0]!;
  const coefficients = new Float64Array(p);
  for (let j = 0; j < p; j += 1) {
    let sum = 0;
    for (let i = 0; i < k; i += 1) sum += inverse[j * k + i]! * (values[i]! - zero);
    coefficients[j] = sum;
  }
  const residuals: number[] = new Array<number>(k);
  let sumSquares = 0;
  for (let i = 0; i < k; i += 1) {
    let fitted = 0;
    for (let j = 0; j < p; j += 1) fitted += design[i * p + j]! * coefficients[j]!;
    const residual = values[i]! - zero - fitted;
    residuals[i] = residual;
    sumSquares += residual * residual;
  }
  return { coefficients, residuals, sumSquares };
}

/** A deviation of fewer standard deviations of the known noise is never called an outlier: it would change nothing. */
const NOISE_FACTOR = 5;

/** A reading that determines the fit by itself (leverage 1) has no residual to judge it by. */
const RESIDUAL_SHARE_MIN = 1e-6;

/**
 * Least-squares harmonics of readings at the angles of a design.
 * y(phi) = mean + sum over orders m of cos_m cos(m phi) + sin_m sin(m phi).
 *
 * @param design - from designHarmonics
 * @param values - number[k] in the order of the design's angles, any unit u, finite
 * @param noise - known standard deviation of one reading, unit u: a deviation below five of them is never called an outlier
 * @returns mean, harmonics with standard errors, residuals, unit u; outlier by externally studentised residual
 *   (Bonferroni at 1 %), null where none is found
 * Method: pseudo-inverse from QR on readings with the first one taken off, so that a large zero costs no digits.
 * Source: NIST/SEMATECH e-Handbook 4.4 (least squares); Cook & Weisberg 1982, 2.2 (studentised residual), from memory.
 */
export function fitHarmonics(design: HarmonicDesign, values: ArrayLike<number>, noise = 0): HarmonicFit {
  const p = 1 + 2 * design.orders.length;
  const { coefficients, residuals, sumSquares } = solve(design.design, design.inverse, values, p);
  let largest = 0;
  for (let i = 0; i < residuals.length; i += 1) largest = Math.max(largest, Math.abs(values[i]!));
  const sd = design.degreesOfFreedom > 0 ? Math.sqrt(sumSquares / design.degreesOfFreedom) : null;
  const harmonics: Harmonic[] = [];
  for (let place = 0; place < design.orders.length; place += 1)
    harmonics.push(toHarmonic(design, place, coefficients, sd));
  return {
    mean: values[0]! + coefficients[0]!,
    harmonics,
    residuals,
    residualSd: sd,
    degreesOfFreedom: design.degreesOfFreedom,
    outlier:
      design.search === null
        ? null
        : findOutlier(design.search, values, Math.max(NOISE_FACTOR * noise, ROUNDING_SHARE * largest)),
    outlierDetectable: design.search !== null,
  };
}

/** Largest variance over all directions of the component pair of one harmonic, for unit variance of a reading. */
export function largestComponentVariance(design: HarmonicDesign, order: number): number {
  const p = 1 + 2 * design.orders.length;
  const c = 1 + 2 * design.orders.indexOf(order);
  const a = design.covariance[c * p + c]!;
  const b = design.covariance[(c + 1) * p + c + 1]!;
  const ab = design.covariance[c * p + c + 1]!;
  return (a + b) / 2 + Math.hypot((a - b) / 2, ab);
}
