import { CoreError, type Estimate } from "../errors";

/** Row-major matrix. */
export type Matrix = { readonly rows: number; readonly cols: number; readonly data: Float64Array };

/** What is needed to solve one least-squares design again and again. */
export type LeastSquaresFactors = {
  /** Pseudo-inverse, cols x rows: coefficients = inverse . y. */
  readonly inverse: Matrix;
  /** (X'X)^-1, cols x cols: the covariance of the coefficients for unit variance of y. */
  readonly covariance: Matrix;
  /** Diagonal of the hat matrix, one per row. */
  readonly leverages: Float64Array;
};

/**
 * A column whose part orthogonal to the columns before it is smaller than this share of the column cannot be told from
 * them: rounding of the design alone reaches about 1e-15, and the result would lose more than ten digits.
 */
const RANK_TOLERANCE = 1e-10;

function orthogonalise(q: Float64Array, r: Float64Array, column: number, rows: number, cols: number): void {
  for (let j = 0; j < column; j += 1) {
    let dot = 0;
    for (let i = 0; i < rows; i += 1) dot += q[i * cols + j]! * q[i * cols + column]!;
    for (let i = 0; i < rows; i += 1) q[i * cols + column]! -= dot * q[i * cols + j]!;
    r[j * cols + column]! += dot;
  }
}

function columnNorm(q: Float64Array, column: number, rows: number, cols: number): number {
  let sum = 0;
  for (let i = 0; i < rows; i += 1) sum += q[i * cols + column]! ** 2;
  return Math.sqrt(sum);
}

/** Inverse of an upper triangular matrix. */
function invertUpper(r: Float64Array, n: number): Float64Array {
  const inverse = new Float64Array(n * n);
  for (let j = 0; j < n; j += 1) {
    inverse[j * n + j] = 1 / r[j * n + j]!;
    for (let i = j - 1; i >= 0; i -= 1) {
      let sum = 0;
      for (let k = i + 1; k <= j; k += 1) sum += r[i * n + k]! * inverse[k * n + j]!;
      inverse[i * n + j] = -sum / r[i * n + i]!;
    }
  }
  return inverse;
}

/**
 * Factors of a linear least-squares problem: pseudo-inverse, covariance for unit variance, and leverages.
 *
 * @param design - rows x cols, rows >= cols >= 1, all finite
 * @returns the factors, or the reason why the columns cannot be told apart
 * @throws CoreError too-few-values if rows < cols; not-finite on a value that is not finite
 * Method: QR by modified Gram-Schmidt with one reorthogonalisation, as stable as Householder for these sizes.
 * Source: Golub & Van Loan, Matrix Computations, 4th ed., 5.2.8-5.3 (from memory).
 */
export function leastSquaresFactors(design: Matrix): Estimate<LeastSquaresFactors> {
  const { rows, cols } = design;
  if (rows < cols || cols < 1)
    throw new CoreError(
      "too-few-values",
      `leastSquaresFactors: design must have at least as many rows as columns; got ${rows} x ${cols}`,
      { rows, cols },
    );
  if (!design.data.every(Number.isFinite))
    throw new CoreError("not-finite", "leastSquaresFactors: design must be finite", {});
  const q = Float64Array.from(design.data);
  const r = new Float64Array(cols * cols);
  for (let j = 0; j < cols; j += 1) {
    const before = columnNorm(q, j, rows, cols);
    orthogonalise(q, r, j, rows, cols);
    orthogonalise(q, r, j, rows, cols);
    const after = columnNorm(q, j, rows, cols);
    if (!(after > RANK_TOLERANCE * before)) return { ok: false, reason: "the design has dependent columns" };
    r[j * cols + j] = after;
    for (let i = 0; i < rows; i += 1) q[i * cols + j]! /= after;
  }
  const inverseR = invertUpper(r, cols);
  const inverse = new Float64Array(cols * rows);
  const covariance = new Float64Array(cols * cols);
  const leverages = new Float64Array(rows);
  for (let i = 0; i < cols; i += 1) {
    for (let row = 0; row < rows; row += 1) {
      let sum = 0;
      for (let k = i; k < cols; k += 1) sum += inverseR[i * cols + k]! * q[row * cols + k]!;
      inverse[i * rows + row] = sum;
      leverages[row]! += q[row * cols + i]! ** 2;
    }
    for (let j = 0; j < cols; j += 1) {
      let sum = 0;
      for (let k = Math.max(i, j); k < cols; k += 1) sum += inverseR[i * cols + k]! * inverseR[j * cols + k]!;
      covariance[i * cols + j] = sum;
    }
  }
  return {
    ok: true,
    value: {
      inverse: { rows: cols, cols: rows, data: inverse },
      covariance: { rows: cols, cols, data: covariance },
      leverages,
    },
    warnings: [],
  };
}
