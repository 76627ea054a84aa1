import { solveLinear } from "../../numerics/solve-linear";
import { quadraticForm } from "./symmetric-matrix";

/** One free size: what a unit of it adds to each stream, and the sign that it must have (0: any). */
export type PatternColumn = Readonly<{ effect: Float64Array; sign: 1 | -1 | 0 }>;

export type PatternFit = Readonly<{
  /** How much less the squared distance r' A r is than without the pattern. */
  explained: number;
  /** One per column; 0 where its sign forbids it. */
  sizes: readonly number[];
  residual: Float64Array;
}>;

/**
 * Generalised least squares of a pattern of streams with known signs.
 * Formula: sizes d minimise (b - P d)' A (b - P d) with A the inverse covariance of b.
 *
 * @param estimate - Float64Array[k], estimated change of each stream
 * @param inverse - Float64Array[k^2], row-major, inverse of its covariance, positive definite
 * @param columns - q >= 0 columns of k effects, none all 0, none equal
 * @returns see PatternFit
 * Method: normal equations (q is at most a handful); the column that violates its sign most is left out, and the rest fitted again
 * Source: Lawson and Hanson 1974, Solving Least Squares Problems, ch. 23, for the signs
 */
export function patternFit(
  estimate: Float64Array,
  inverse: Float64Array,
  columns: readonly PatternColumn[],
): PatternFit {
  const k = estimate.length;
  const weighted = columns.map(({ effect }) => times(inverse, effect));
  const sizes = new Array<number>(columns.length).fill(0);
  let used = columns.map((_, at) => at);
  while (used.length > 0) {
    const q = used.length;
    const normal = new Float64Array(q * q);
    const right = new Float64Array(q);
    used.forEach((column, row) => {
      right[row] = dot(weighted[column]!, estimate);
      used.forEach((other, col) => (normal[row * q + col] = dot(weighted[column]!, columns[other]!.effect)));
    });
    const solution = solveLinear(normal, right);
    let worst = -1;
    let violation = 0;
    used.forEach((column, at) => {
      const against = -columns[column]!.sign * solution[at]! * Math.sqrt(normal[at * q + at]!);
      if (against > violation) [worst, violation] = [at, against];
    });
    if (worst < 0) {
      used.forEach((column, at) => (sizes[column] = solution[at]!));
      break;
    }
    used = used.filter((_, at) => at !== worst);
  }
  const residual = estimate.slice();
  columns.forEach(({ effect }, column) => {
    for (let stream = 0; stream < k; stream++) residual[stream]! -= effect[stream]! * sizes[column]!;
  });
  return { explained: quadraticForm(inverse, estimate) - quadraticForm(inverse, residual), sizes, residual };
}

function times(matrix: Float64Array, x: Float64Array): Float64Array {
  const n = x.length;
  const product = new Float64Array(n);
  for (let row = 0; row < n; row++) {
    let sum = 0;
    for (let col = 0; col < n; col++) sum += matrix[row * n + col]! * x[col]!;
    product[row] = sum;
  }
  return product;
}

function dot(x: Float64Array, y: Float64Array): number {
  let sum = 0;
  for (let index = 0; index < x.length; index++) sum += x[index]! * y[index]!;
  return sum;
}
