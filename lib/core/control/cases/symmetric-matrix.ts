import { CoreError } from "../../errors";

/** Inverse and ln of the determinant of a symmetric positive definite matrix. */
export type DefiniteInverse = Readonly<{ inverse: Float64Array; logDeterminant: number }>;

/**
 * Inverse of a symmetric positive definite matrix by Cholesky's factors.
 *
 * @param matrix - Float64Array[n * n], row-major; not changed
 * @returns the inverse, row-major, and ln det
 * @throws CoreError degenerate where the matrix is not positive definite to rounding
 * Source: Golub and Van Loan, Matrix Computations, 4th ed., 4.2.5
 */
export function definiteInverse(matrix: Float64Array, n: number): DefiniteInverse {
  const lower = new Float64Array(n * n);
  let logDeterminant = 0;
  for (let row = 0; row < n; row++) {
    for (let col = 0; col <= row; col++) {
      let sum = matrix[row * n + col]!;
      for (let k = 0; k < col; k++) sum -= lower[row * n + k]! * lower[col * n + k]!;
      if (row > col) lower[row * n + col] = sum / lower[col * n + col]!;
      else {
        if (!(sum > Number.EPSILON * matrix[row * n + row]!))
          throw new CoreError("degenerate", "definiteInverse: matrix must be positive definite", { row });
        lower[row * n + row] = Math.sqrt(sum);
        logDeterminant += Math.log(sum);
      }
    }
  }
  const inverse = new Float64Array(n * n);
  const column = new Float64Array(n);
  for (let unit = 0; unit < n; unit++) {
    column.fill(0);
    for (let row = unit; row < n; row++) {
      let sum = row === unit ? 1 : 0;
      for (let k = unit; k < row; k++) sum -= lower[row * n + k]! * column[k]!;
      column[row] = sum / lower[row * n + row]!;
    }
    for (let row = n - 1; row >= 0; row--) {
      let sum = column[row]!;
      for (let k = row + 1; k < n; k++) sum -= lower[k * n + row]! * column[k]!;
      column[row] = sum / lower[row * n + row]!;
      inverse[row * n + unit] = column[row]!;
    }
  }
  return { inverse, logDeterminant };
}

/** x' A x for a row-major symmetric matrix. */
export function quadraticForm(matrix: Float64Array, x: Float64Array): number {
  const n = x.length;
  let sum = 0;
  for (let row = 0; row < n; row++) {
    let product = 0;
    for (let col = 0; col < n; col++) product += matrix[row * n + col]! * x[col]!;
    sum += product * x[row]!;
  }
  return sum;
}
