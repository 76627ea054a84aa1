import { CoreError } from "../errors";

/**
 * How finely values are known. A value that is shown stands for all that the gauge would have shown as it: [x - step / 2,
 * x + step / 2], or up to half way to its neighbours where the values lie on no even grid. What is shown as 0 of a quantity
 * that cannot be negative stands for anything below `zeroEnd`: it is censored, not observed.
 */
export interface ValueGrid {
  /** Distance of the values that can be shown; null where they are as good as exact or lie on no even grid. */
  readonly step: number | null;
  /** A value on the even grid. */
  readonly origin: number;
  /** Values of an uneven grid, ascending, and the usual distance of two; null where the grid is even or there is none. */
  readonly uneven: { readonly shown: readonly number[]; readonly spacing: number } | null;
  /** Upper end of what is shown as 0; null where no 0 is shown. */
  readonly zeroEnd: number | null;
}

export interface ValueGridOptions {
  /** Resolution where it is known, > 0, unit of the values; found from the values otherwise. */
  readonly resolution?: number;
}

/** A sample by its different values: each stands for an interval, or for itself where low and high are equal. */
export interface RoundedSample {
  readonly n: number;
  readonly grid: ValueGrid;
  /** Different values, ascending. */
  readonly values: Float64Array;
  readonly low: Float64Array;
  readonly high: Float64Array;
  readonly counts: Float64Array;
}

/** Part of the largest value below which a value is noise of arithmetic: it is 0. */
const NOISE = 1e-9;
/** A grid finer than so many parts of the largest value is the rounding of numbers, not of a gauge. */
const FINEST_GRID = 1e-6;
/**
 * Below this n (step / sd)^2 rounding is lost in the sampling error: it adds step^2 / 12 to the variance and about
 * 0.03 n (step / sd)^2 to an Anderson-Darling statistic.
 */
const NEGLIGIBLE = 0.25;

/**
 * Values without the noise of arithmetic around 0.
 * @param x - number[n], any unit, all finite
 * @returns the values, those within 1e-9 of the largest of 0 set to 0
 * @example withoutNoise([12, 7e-12, -3e-12]) // [12, 0, 0]
 */
export function withoutNoise(x: readonly number[]): readonly number[] {
  let largest = 0;
  for (const value of x) largest = Math.max(largest, Math.abs(value));
  const noise = NOISE * largest;
  return x.some((value) => value !== 0 && Math.abs(value) <= noise)
    ? x.map((value) => (Math.abs(value) <= noise ? 0 : value))
    : x;
}

/**
 * How finely the values of a sample are known.
 * @param x - number[n], n >= 2, any unit, all finite, without noise
 * @param options - see ValueGridOptions
 * @returns the grid; null where every value is as good as exact
 * @throws CoreError out-of-range for a resolution that is not > 0
 * Method: an even grid by the greatest common divisor of the distances of neighbouring values; where it is too fine to matter
 * and each value comes twice on average, the values themselves. A 0 among values none of which is negative stands for all below the
 * interval of the smallest value beside it: nothing was shown there, so that is the likeliest threshold of the gauge.
 */
export function valueGrid(x: readonly number[], options: ValueGridOptions = {}): ValueGrid | null {
  const { resolution } = options;
  if (resolution !== undefined && !(resolution > 0 && resolution < Infinity)) {
    throw new CoreError("out-of-range", `valueGrid: resolution must be > 0; got ${resolution}`, { resolution });
  }
  const shown = differentValues(x);
  const smallest = shown[0] ?? 0;
  const largest = shown.at(-1) ?? 0;
  const scale = Math.max(Math.abs(smallest), Math.abs(largest));
  const step = resolution ?? evenStep(shown, scale);
  const hasZero = smallest <= 0 && smallest >= -(resolution ?? 0) / 2;
  const beside = x.length - (hasZero ? x.filter((value) => value <= 0).length : 0);
  const coarse = step !== null && x.length * step ** 2 > NEGLIGIBLE * variance(x);
  const tied = !coarse && 2 * (shown.length - (hasZero ? 1 : 0)) <= beside;
  if (!coarse && !tied && !hasZero) return null;
  const uneven = tied ? { shown, spacing: usualSpacing(shown) } : null;
  const grid = { step: coarse ? step : null, origin: smallest, uneven, zeroEnd: null };
  if (!hasZero) return grid;
  const next = shown.find((value) => value > (step ?? 0) / 4);
  if (next === undefined) return grid;
  return { ...grid, zeroEnd: Math.max(intervalOf(grid, next)[0], (step ?? 0) / 2) };
}

/**
 * What a value that is shown stands for.
 * @param grid - how finely values are known
 * @param value - as shown, unit of the grid
 * @returns [low, high], equal where the value is as good as exact; low is -Infinity for what is shown as 0
 */
export function intervalOf(grid: ValueGrid, value: number): readonly [low: number, high: number] {
  const { step, uneven, zeroEnd } = grid;
  if (zeroEnd !== null && value <= 0) return [-Infinity, zeroEnd];
  if (step !== null) {
    const low = value - step / 2;
    return [zeroEnd !== null && low <= 0 ? -Infinity : low, value + step / 2];
  }
  if (uneven === null) return [value, value];
  const { shown, spacing } = uneven;
  const place = placeOf(shown, value);
  if (Math.abs(shown[place]! - value) > spacing / 2) return [value, value];
  const half = (neighbour: number | undefined) =>
    Math.min(neighbour === undefined ? spacing : Math.abs(neighbour - value), spacing) / 2;
  return [value - half(shown[place - 1]), value + half(shown[place + 1])];
}

/**
 * The value that is shown for a true one.
 * @param grid - how finely values are known
 * @param value - the true value
 */
export function shownAs(grid: ValueGrid, value: number): number {
  const { step, origin, uneven, zeroEnd } = grid;
  if (zeroEnd !== null && value < zeroEnd) return 0;
  if (step !== null) return origin + step * Math.round((value - origin) / step);
  if (uneven === null) return value;
  const nearest = uneven.shown[placeOf(uneven.shown, value)] ?? value;
  return Math.abs(nearest - value) <= uneven.spacing / 2 ? nearest : value;
}

/**
 * A sample by its different values and what they stand for.
 * @param x - number[n], n >= 1, all finite, without noise
 * @param grid - how finely values are known
 */
export function roundedSample(x: readonly number[], grid: ValueGrid): RoundedSample {
  const values = Float64Array.from(x).sort();
  const different: number[] = [];
  const counts: number[] = [];
  const close = (grid.step ?? 0) * 1e-3;
  for (const value of values) {
    const last = different.at(-1);
    if (last !== undefined && value - last <= close) counts[counts.length - 1]! += 1;
    else {
      different.push(value);
      counts.push(1);
    }
  }
  const intervals = different.map((value) => intervalOf(grid, value));
  return {
    n: x.length,
    grid,
    values: Float64Array.from(different),
    low: Float64Array.from(intervals, ([low]) => low),
    high: Float64Array.from(intervals, ([, high]) => high),
    counts: Float64Array.from(counts),
  };
}

/**
 * A sample drawn from the values of another one.
 * @param first - the other sample
 * @param x - number[n], n >= 1, each one of the values that `first` was made of
 * @throws CoreError invalid-argument for another value
 */
export function resampled(first: RoundedSample, x: readonly number[]): RoundedSample {
  const { values, grid } = first;
  const close = (grid.step ?? 0) * 1e-3;
  const all = new Float64Array(values.length);
  for (const value of x) {
    let [low, high] = [0, values.length - 1];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (values[middle]! + close < value) low = middle + 1;
      else high = middle;
    }
    if (!(Math.abs(values[low]! - value) <= close))
      throw new CoreError("invalid-argument", `resampled: x must be of the first sample; got ${value}`);
    all[low]! += 1;
  }
  const kept = (part: Float64Array) => part.filter((_, i) => all[i]! > 0);
  return { n: x.length, grid, values: kept(values), low: kept(first.low), high: kept(first.high), counts: kept(all) };
}

/**
 * The sample behind values that are not known exactly.
 * @param x - number[n], n >= 2, all finite
 * @param options - see ValueGridOptions
 * @returns the sample; null where every value is as good as exact
 */
export function roundedSampleOf(x: readonly number[], options: ValueGridOptions = {}): RoundedSample | null {
  const values = withoutNoise(x);
  const grid = valueGrid(values, options);
  return grid === null ? null : roundedSample(values, grid);
}

/** Mean and standard deviation (n - 1) of the values as they are shown. */
export function shownMoments({ n, values, counts }: RoundedSample): { readonly mean: number; readonly sd: number } {
  const origin = values[values.length >> 1]!;
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += counts[i]! * (values[i]! - origin);
  const mean = origin + sum / n;
  let square = 0;
  for (let i = 0; i < values.length; i++) square += counts[i]! * (values[i]! - mean) ** 2;
  return { mean, sd: Math.sqrt(square / (n - 1)) };
}

function differentValues(x: readonly number[]): readonly number[] {
  const sorted = Float64Array.from(x).sort();
  const different: number[] = [];
  const noise = NOISE * Math.max(Math.abs(sorted[0] ?? 0), Math.abs(sorted.at(-1) ?? 0));
  for (const value of sorted) if (!(value - (different.at(-1) ?? -Infinity) <= noise)) different.push(value);
  return different;
}

/** Greatest common divisor of the distances of neighbouring values; null where there is none above the rounding. */
function evenStep(shown: readonly number[], scale: number): number | null {
  const finest = FINEST_GRID * scale;
  const noise = NOISE * scale;
  let step = 0;
  for (let i = 1; i < shown.length; i++) {
    let [larger, smaller] = [shown[i]! - shown[i - 1]!, step];
    while (smaller > 10 * noise)
      [larger, smaller] = [smaller, Math.abs(larger - Math.round(larger / smaller) * smaller)];
    step = larger;
    if (step < finest) return null;
  }
  if (step === 0) return null;
  const origin = shown[0]!;
  // Over the whole range the step is better known than between two neighbours.
  const span = shown.at(-1)! - origin;
  const fine = span / Math.round(span / step);
  return shown.every((value) => Math.abs(value - origin - fine * Math.round((value - origin) / fine)) <= 100 * noise)
    ? fine
    : null;
}

function variance(x: readonly number[]): number {
  const origin = x[0] ?? 0;
  let sum = 0;
  for (const value of x) sum += value - origin;
  const mean = origin + sum / x.length;
  let square = 0;
  for (const value of x) square += (value - mean) ** 2;
  return square / x.length;
}

/** Place of the nearest of ascending values. */
function placeOf(shown: readonly number[], value: number): number {
  let [low, high] = [0, shown.length - 1];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (value > (shown[middle]! + shown[middle + 1]!) / 2) low = middle + 1;
    else high = middle;
  }
  return low;
}

function usualSpacing(shown: readonly number[]): number {
  const spacings = shown.slice(1).map((value, i) => value - shown[i]!);
  return spacings.sort((a, b) => a - b)[spacings.length >> 1] ?? 0;
}
