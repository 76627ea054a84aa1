import { CoreError } from "../../errors";

/** Vectors of one length, in the order of time. */
export type Vectors = readonly (readonly number[])[];

/**
 * How the covariance of individual vectors is found. sample: about their mean (n - 1). successive-differences: half the
 * mean square of neighbours' differences, which a step or drift of the mean hardly widens.
 */
export type CovarianceMethod = "sample" | "successive-differences";

/** Mean vector and covariance with what they rest on. Plain rows, so that they can be stored with a baseline. */
export type VectorEstimate = Readonly<{
  mean: readonly number[];
  covariance: readonly (readonly number[])[];
  /** Vectors behind the mean. */
  count: number;
  /** Degrees of freedom of the covariance (Wishart; for successive differences the equivalent ones). */
  degreesOfFreedom: number;
}>;

/** Lower triangular factor L of a covariance, L L' = S, row by row. */
export type TriangularFactor = Readonly<{ dimensions: number; data: Float64Array }>;

/**
 * A component whose variance left after the components before it is below this share of its own cannot be told from
 * them: rounding of double precision data with six common digits reaches about 1e-10 of the variance.
 */
const DEPENDENCE_TOLERANCE = 1e-10;

/**
 * Checks vectors and gives their length p.
 *
 * @param name - of the function that asks, for the message
 * @param vectors - number[n][p], p from 1 to 20, all finite
 * @returns p, or 0 for no vectors
 * @throws CoreError length-mismatch for vectors of different length, out-of-range for p, not-finite
 */
export function checkedDimensions(name: string, vectors: Vectors): number {
  const p = vectors[0]?.length ?? 0;
  if (vectors.length > 0 && (p < 1 || p > 20)) {
    throw new CoreError("out-of-range", `${name}: vectors must have 1 to 20 components; got ${p}`, { p });
  }
  vectors.forEach((vector, index) => {
    if (vector.length !== p) {
      throw new CoreError(
        "length-mismatch",
        `${name}: vectors must all have ${p} components; got ${vector.length} (at index ${index})`,
        { index },
      );
    }
    for (const value of vector) {
      if (!Number.isFinite(value)) {
        throw new CoreError("not-finite", `${name}: vectors must be finite; got ${value} (at index ${index})`, {
          index,
        });
      }
    }
  });
  return p;
}

/**
 * Mean vector, about the first one so that a large offset costs no digits.
 *
 * @param vectors - number[n][p], n >= 1, checked
 * @param weights - one a vector, > 0; all 1 by default
 */
export function meanVector(vectors: Vectors, weights?: readonly number[]): number[] {
  const origin = vectors[0]!;
  let total = 0;
  const sums = origin.map(() => 0);
  vectors.forEach((vector, index) => {
    const weight = weights?.[index] ?? 1;
    total += weight;
    for (let k = 0; k < sums.length; k++) sums[k]! += weight * (vector[k]! - origin[k]!);
  });
  return sums.map((sum, k) => origin[k]! + sum / total);
}

/**
 * Mean and covariance of individual vectors.
 * Formula: S = sum((x_i - xbar)(x_i - xbar)') / (n - 1), or sum(d_i d_i') / (2 (n - 1)) with d_i = x_(i+1) - x_i, whose
 * equivalent degrees of freedom are 2 (n - 1)^2 / (3 n - 4).
 *
 * @param vectors - number[n][p], n >= 2, checked
 * @param method - see CovarianceMethod
 * Source: Sullivan and Woodall 1996, Journal of Quality Technology 28(4) 398-408; degrees of freedom: Scholz and Tosch
 *   1994, as quoted there
 */
export function vectorEstimate(vectors: Vectors, method: CovarianceMethod): VectorEstimate {
  const n = vectors.length;
  const mean = meanVector(vectors);
  const p = mean.length;
  const covariance = Array.from({ length: p }, () => new Array<number>(p).fill(0));
  const add = (deviation: readonly number[], divisor: number) => {
    for (let row = 0; row < p; row++) {
      for (let col = 0; col < p; col++) covariance[row]![col]! += (deviation[row]! * deviation[col]!) / divisor;
    }
  };
  if (method === "sample") {
    for (const vector of vectors)
      add(
        vector.map((value, k) => value - mean[k]!),
        n - 1,
      );
    return { mean, covariance, count: n, degreesOfFreedom: n - 1 };
  }
  for (let index = 1; index < n; index++) {
    add(
      vectors[index]!.map((value, k) => value - vectors[index - 1]![k]!),
      2 * (n - 1),
    );
  }
  return { mean, covariance, count: n, degreesOfFreedom: (2 * (n - 1) ** 2) / (3 * n - 4) };
}

/**
 * Cholesky factor of a covariance, or null if a component does not vary or follows from the others.
 *
 * @param covariance - number[p][p], symmetric
 */
export function covarianceFactor(covariance: readonly (readonly number[])[]): TriangularFactor | null {
  const p = covariance.length;
  const data = new Float64Array(p * p);
  for (let row = 0; row < p; row++) {
    for (let col = 0; col <= row; col++) {
      let rest = covariance[row]![col]!;
      for (let k = 0; k < col; k++) rest -= data[row * p + k]! * data[col * p + k]!;
      if (row !== col) data[row * p + col] = rest / data[col * p + col]!;
      else if (rest > DEPENDENCE_TOLERANCE * covariance[row]![row]!) data[row * p + row] = Math.sqrt(rest);
      else return null;
    }
  }
  return { dimensions: p, data };
}

/** d' S^-1 d by forward substitution in the factor of S. */
export function squaredDistance({ dimensions: p, data }: TriangularFactor, deviation: ArrayLike<number>): number {
  const solved = new Float64Array(p);
  let square = 0;
  for (let row = 0; row < p; row++) {
    let rest = deviation[row]!;
    for (let k = 0; k < row; k++) rest -= data[row * p + k]! * solved[k]!;
    solved[row] = rest / data[row * p + row]!;
    square += solved[row]! ** 2;
  }
  return square;
}

/**
 * Checks a mean and covariance that were given.
 *
 * @throws CoreError length-mismatch, not-finite, out-of-range for counts, degenerate for a covariance that is not
 *   symmetric and positive definite
 */
export function checkedBaseline(
  name: string,
  baseline: HotellingBaseline,
  dimensions: number,
): { factor: TriangularFactor; baseline: HotellingBaseline } {
  const { mean, covariance, count, degreesOfFreedom } = baseline;
  checkedDimensions(name, [mean, ...covariance]);
  if (mean.length !== dimensions || covariance.length !== dimensions) {
    throw new CoreError(
      "length-mismatch",
      `${name}: baseline must have ${dimensions} components; got ${mean.length} and ${covariance.length} rows`,
    );
  }
  for (const [what, value] of [
    ["count", count],
    ["degreesOfFreedom", degreesOfFreedom],
  ] as const) {
    const least = what === "count" ? 1 : dimensions;
    if (value !== null && !(value >= least && value < Infinity)) {
      throw new CoreError("out-of-range", `${name}: baseline.${what} must be null or >= ${least}; got ${value}`);
    }
  }
  if ((count === null) !== (degreesOfFreedom === null)) {
    throw new CoreError(
      "invalid-argument",
      `${name}: baseline.count and degreesOfFreedom must both be null or both given`,
    );
  }
  for (let row = 0; row < dimensions; row++) {
    for (let col = 0; col < row; col++) {
      const scale = Math.sqrt(Math.abs(covariance[row]![row]! * covariance[col]![col]!));
      if (!(Math.abs(covariance[row]![col]! - covariance[col]![row]!) <= 1e-9 * scale)) {
        throw new CoreError("degenerate", `${name}: baseline.covariance must be symmetric`);
      }
    }
  }
  const factor = covarianceFactor(covariance);
  if (factor === null) {
    throw new CoreError("degenerate", `${name}: baseline.covariance must be positive definite`);
  }
  return { factor, baseline };
}

/** What phase II limits rest on; count and degreesOfFreedom null: mean and covariance are known, not estimated. */
export type HotellingBaseline = Readonly<{
  mean: readonly number[];
  covariance: readonly (readonly number[])[];
  count: number | null;
  degreesOfFreedom: number | null;
}>;
