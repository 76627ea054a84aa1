import { normalQuantile } from "../../distributions/normal";
import { studentTCdf, studentTSf } from "../../distributions/student-t";
import { CoreError } from "../../errors";

/** Moments of the values of a size stream so far: count, mean, sum of squares about it. */
export type SizeBaseline = Readonly<{ count: number; mean: number; squares: number }>;

/** Values of a form stream so far, ascending. */
export type FormBaseline = Readonly<{ sorted: readonly number[] }>;

/** Moments of a vector of two components so far; squares: of the first, the product of both, of the second. */
export type VectorBaseline = Readonly<{
  count: number;
  mean: readonly [number, number];
  squares: readonly [number, number, number];
}>;

/** A form baseline of so many values grows no more: the error of its ranks is lost in their steps. */
const FORM_VALUES_MOST = 1000;
/** Scores beyond have chances that no double holds. */
const LARGEST_SCORE = 37;

/** Standard deviation of a size baseline (n - 1). */
export function sizeSd({ count, squares }: SizeBaseline): number {
  return Math.sqrt(squares / (count - 1));
}

/**
 * Baseline of a size stream from its starting stretch.
 * @param values - number[n], n >= 3, finite, not all equal
 * @throws CoreError too-few-values, not-finite, degenerate
 */
export function sizeBaseline(values: readonly number[]): SizeBaseline {
  requireValues("sizeBaseline", values.length, values);
  const baseline = values.reduce(enterSize, { count: 0, mean: 0, squares: 0 });
  if (!(baseline.squares > 0)) throw new CoreError("degenerate", "sizeBaseline: values must not all be equal");
  return baseline;
}

/** The baseline with one more value (Welford). */
export function enterSize({ count, mean, squares }: SizeBaseline, value: number): SizeBaseline {
  const step = value - mean;
  const next = mean + step / (count + 1);
  return { count: count + 1, mean: next, squares: squares + step * (value - next) };
}

/**
 * Score of a new value of a size stream: standard normal whatever the mean and the standard deviation of the process, and
 * independent of the scores before it.
 * Formula: normal quantile of F_t(n - 1)((x - m) / (s sqrt(1 + 1 / n)))
 *
 * @param baseline - n >= 2, s > 0
 * @param value - unit of the baseline
 * @returns score, at most 37 in size
 * Accuracy: six published digits in tests/core/control/alarm/alarm-scores.test.ts
 * Source: Hawkins 1987, The Statistician 36 299-315
 */
export function sizeScore(baseline: SizeBaseline, value: number): number {
  const { count, mean } = baseline;
  const t = (value - mean) / (sizeSd(baseline) * Math.sqrt(1 + 1 / count));
  const size = count > EXPANDED_FROM ? expandedScore(t, count - 1) : exactScore(t, count - 1);
  return Math.max(-LARGEST_SCORE, Math.min(LARGEST_SCORE, size));
}

function exactScore(t: number, degrees: number): number {
  return t < 0 ? normalQuantile(studentTCdf(t, degrees)) : -normalQuantile(studentTSf(t, degrees));
}

/** Baselines of more values are scored by the expansion, ten times as fast. */
const EXPANDED_FROM = 40;

/**
 * Normal quantile of a t distribution function by its expansion in 1 / (48 (v - 1/2)^2): within 1e-7 from 40 degrees on and |t| up to 8.
 * Source: Hill 1970, Communications of the ACM 13 617-619 (algorithm 395)
 */
function expandedScore(t: number, degrees: number): number {
  const a = degrees - 0.5;
  const b = 48 * a * a;
  const y = a * Math.log1p((t * t) / degrees);
  const rest = (((-0.4 * y - 3.3) * y - 24) * y - 85.5) / (0.8 * y * y + 100 + b);
  const size = ((rest + y + 3) / b + 1) * Math.sqrt(y);
  return t < 0 ? -size : size;
}

/**
 * Baseline of a form stream from its starting stretch.
 * @param values - number[n], n >= 3, finite
 * @throws CoreError too-few-values, not-finite
 */
export function formBaseline(values: readonly number[]): FormBaseline {
  requireValues("formBaseline", values.length, values);
  return { sorted: [...values].sort((a, b) => a - b).slice(0, FORM_VALUES_MOST) };
}

/** The baseline with one more value, up to 1,000 of them. */
export function enterForm(baseline: FormBaseline, value: number): FormBaseline {
  const { sorted } = baseline;
  if (sorted.length >= FORM_VALUES_MOST) return baseline;
  const next = sorted.slice();
  next.splice(placeOf(sorted, value), 0, value);
  return { sorted: next };
}

/**
 * Score of a new value of a form stream by its rank in the baseline: distribution-free, independent of the scores before it.
 * Formula: normal quantile of (below + (ties + 1) / 2) / (n + 1)
 *
 * @param baseline - n >= 1 values
 * @param value - unit of the baseline
 * Source: McDonald 1990, Naval Research Logistics 37 627-646 (sequential ranks)
 */
export function rankScore({ sorted }: FormBaseline, value: number): number {
  const below = placeOf(sorted, value);
  let ties = 0;
  while (sorted[below + ties] === value) ties += 1;
  return normalQuantile((below + (ties + 1) / 2) / (sorted.length + 1));
}

/** How many ascending values are below one. */
function placeOf(sorted: readonly number[], value: number): number {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

type Vector = readonly [number, number];

/**
 * Baseline of a vector stream from its starting stretch.
 * @param values - n >= 4 vectors, finite, not on a line
 * @throws CoreError too-few-values, not-finite, degenerate
 */
export function vectorBaseline(values: readonly Vector[]): VectorBaseline {
  requireValues("vectorBaseline", values.length - 1, values.flat());
  const baseline = values.reduce(enterVector, { count: 0, mean: [0, 0], squares: [0, 0, 0] });
  const [a, b, c] = baseline.squares;
  if (!(a * c - b * b > SMALLEST_SHARE * a * c))
    throw new CoreError("degenerate", "vectorBaseline: values must vary in two directions");
  return baseline;
}

/** Share of the product of variances below which the determinant is rounding. */
const SMALLEST_SHARE = 1e-9;

/** The baseline with one more vector. */
export function enterVector({ count, mean, squares }: VectorBaseline, value: Vector): VectorBaseline {
  const step: Vector = [value[0] - mean[0], value[1] - mean[1]];
  const next: Vector = [mean[0] + step[0] / (count + 1), mean[1] + step[1] / (count + 1)];
  const rest: Vector = [value[0] - next[0], value[1] - next[1]];
  return {
    count: count + 1,
    mean: next,
    squares: [squares[0] + step[0] * rest[0], squares[1] + step[0] * rest[1], squares[2] + step[1] * rest[1]],
  };
}

/** A vector in standard deviations, by the symmetric root of the inverse covariance, so that directions keep their meaning. */
export function standardised({ count, squares }: VectorBaseline, [y, z]: Vector): Vector {
  const [a, b, c] = squares.map((square) => square / (count - 1)) as [number, number, number];
  const root = Math.sqrt(a * c - b * b);
  const scale = Math.sqrt(a + c + 2 * root);
  // Inverse of (S + root I) / scale, the symmetric root of S.
  const [p, q, r] = [a + root, b, c + root];
  const determinant = (p * r - q * q) / scale;
  return [(r * y - q * z) / determinant, (p * z - q * y) / determinant];
}

/**
 * Score of a new vector: of two standard normal components whatever mean and covariance of the process.
 * Formula: length sqrt((n - 2) ln(1 + T2 n / (n^2 - 1))), which turns the distribution of T2 of a new vector into chi square of
 *   two degrees; direction of the standardised vector.
 *
 * @param baseline - n >= 4
 * @param value - unit of the baseline
 * Source: Sullivan and Jones 2002, Technometrics 44 24-33 (the idea; self-starting for vectors); the distribution of T2: Tracy, Young and
 *   Mason 1992, Journal of Quality Technology 24 88-95
 */
export function vectorScore(baseline: VectorBaseline, value: Vector): Vector {
  const { count, mean } = baseline;
  const [y, z] = standardised(baseline, [value[0] - mean[0], value[1] - mean[1]]);
  const length = Math.hypot(y, z);
  if (length === 0) return [0, 0];
  const scored = Math.sqrt((count - 2) * Math.log1p((length * length * count) / (count * count - 1)));
  const scale = Math.min(scored, LARGEST_SCORE) / length;
  return [y * scale, z * scale];
}

function requireValues(name: string, count: number, values: readonly number[]): void {
  if (count < 3) throw new CoreError("too-few-values", `${name}: values must be at least 3; got ${count}`);
  const index = values.findIndex((value) => !Number.isFinite(value));
  if (index >= 0)
    throw new CoreError("not-finite", `${name}: values must be finite; got ${values[index]} (at index ${index})`);
}
