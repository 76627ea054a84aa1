import { CoreError } from "../errors";

/**
 * Solution x of A x = b for a square dense matrix.
 *
 * @param matrix - Float64Array[n * n], row-major; not changed
 * @param right - Float64Array[n]; not changed
 * @returns Float64Array[n]
 * @throws CoreError length-mismatch if the matrix is not n x n, degenerate if it is singular to rounding
 * Method: Gaussian elimination with partial pivoting, one step of iterative refinement.
 * Source: Golub and Van Loan, Matrix Computations, 4th ed., 3.4 and 3.5.3
 */
export function solveLinear(matrix: Float64Array, right: Float64Array): Float64Array {
  const n = right.length;
  if (matrix.length !== n * n) {
    throw new CoreError("length-mismatch", `solveLinear: matrix must have ${n * n} entries; got ${matrix.length}`);
  }
  const lu = matrix.slice();
  const order = factorise(lu, n);
  const solution = substitute(lu, order, right);
  const residual = right.slice();
  for (let row = 0; row < n; row++) {
    let product = 0;
    for (let col = 0; col < n; col++) product += matrix[row * n + col]! * solution[col]!;
    residual[row] = residual[row]! - product;
  }
  const correction = substitute(lu, order, residual);
  for (let row = 0; row < n; row++) solution[row] = solution[row]! + correction[row]!;
  return solution;
}

function factorise(lu: Float64Array, n: number): Int32Array {
  const order = Int32Array.from({ length: n }, (_, row) => row);
  let scale = 0;
  for (const entry of lu) scale = Math.max(scale, Math.abs(entry));
  for (let step = 0; step < n; step++) {
    let pivot = step;
    for (let row = step + 1; row < n; row++) {
      if (Math.abs(lu[row * n + step]!) > Math.abs(lu[pivot * n + step]!)) pivot = row;
    }
    if (!(Math.abs(lu[pivot * n + step]!) > Number.EPSILON * Number.EPSILON * scale)) {
      throw new CoreError("degenerate", "solveLinear: matrix must not be singular", { step });
    }
    if (pivot !== step) {
      for (let col = 0; col < n; col++) {
        const entry = lu[step * n + col]!;
        lu[step * n + col] = lu[pivot * n + col]!;
        lu[pivot * n + col] = entry;
      }
      const row = order[step]!;
      order[step] = order[pivot]!;
      order[pivot] = row;
    }
    for (let row = step + 1; row < n; row++) {
      const factor = (lu[row * n + step]! /= lu[step * n + step]!);
      for (let col = step + 1; col < n; col++) lu[row * n + col]! -= factor * lu[step * n + col]!;
    }
  }
  return order;
}

function substitute(lu: Float64Array, order: Int32Array, right: Float64Array): Float64Array {
  const n = right.length;
  const x = new Float64Array(n);
  for (let row = 0; row < n; row++) {
    let sum = right[order[row]!]!;
    for (let col = 0; col < row; col++) sum -= lu[row * n + col]! * x[col]!;
    x[row] = sum;
  }
  for (let row = n - 1; row >= 0; row--) {
    let sum = x[row]!;
    for (let col = row + 1; col < n; col++) sum -= lu[row * n + col]! * x[col]!;
    x[row] = sum / lu[row * n + row]!;
  }
  return x;
}
