import { patternFit, type PatternColumn } from "../../core/control/cases/pattern-fit";
import { definiteInverse, quadraticForm } from "../../core/control/cases/symmetric-matrix";
import type { ScoredStream } from "./score-streams";

/** Frames that are taken for changed, with the weight of each: 1 for a step, its age for a trend. */
export type Segment = { readonly places: readonly number[]; readonly weights: readonly number[] };

/** What a cause does to the streams of a vector: its free sizes, and which streams scatter more, in groups of one factor. */
export type Pattern = {
  readonly columns: readonly PatternColumn[];
  readonly scatters: readonly { readonly streams: readonly number[]; readonly most: number }[];
};

export type SegmentFit = {
  /** ln of the likelihood over that of no change, less half ln n for each free size and factor. */
  readonly lnLikelihood: number;
  readonly sizes: readonly number[];
  /** 2 ln of the likelihood that the free sizes bring. */
  readonly moved: number;
  /** What is left of each stream's change, in standard deviations of its estimate. */
  readonly left: readonly number[];
  /** Factors of the variances of the groups that scatter, at least 1. */
  readonly factors: readonly number[];
};

type Sums = {
  readonly count: number;
  readonly w: number;
  readonly ww: number;
  readonly wu: number;
  readonly uu: number;
};

function sumsOf({ scores }: ScoredStream, { places, weights }: Segment): Sums {
  let [count, w, ww, wu, uu] = [0, 0, 0, 0, 0];
  places.forEach((place, at) => {
    const score = scores[place] ?? null;
    if (score === null) return;
    const weight = weights[at] ?? 1;
    count += 1;
    w += weight;
    ww += weight * weight;
    wu += weight * score;
    uu += score * score;
  });
  return { count, w, ww, wu, uu };
}

/** Sums over the segment's frames of the products of two streams' deviations from their means there. */
function deviationProducts(streams: readonly ScoredStream[], { places }: Segment): Float64Array {
  const k = streams.length;
  const rows = streams.map(({ scores }) => {
    const values = places.map((place) => scores[place] ?? null);
    const there = values.flatMap((value) => value ?? []);
    const mean = there.reduce((sum, value) => sum + value / there.length, 0);
    // A frame without the value says nothing of the stream.
    return values.map((value) => (value === null ? 0 : value - mean));
  });
  const products = new Float64Array(k * k);
  for (let i = 0; i < k; i++)
    for (let j = 0; j <= i; j++) {
      let sum = 0;
      rows[i]?.forEach((value, at) => (sum += value * (rows[j]?.[at] ?? 0)));
      products[i * k + j] = sum;
      products[j * k + i] = sum;
    }
  return products;
}

/** Estimated changes of the streams in a segment, and how patterns explain them. */
export type SegmentEstimate = {
  /** Change of each stream, in its standard deviations (a frame for a trend), and its standard error under no change. */
  readonly changes: Float64Array;
  readonly errors: readonly number[];
  readonly frames: number;
  readonly fit: (pattern: Pattern) => SegmentFit;
};

/**
 * Likelihood of patterns over the frames of a segment.
 * Formula: with b the weighted changes of the streams, C = R / sum w^2 their covariance and W that of ordinary differences between
 *   shifts and of the baseline's own error: ln L = 1/2 (b' C^-1 b - r' (C + W)^-1 r - ln det(C + W) + ln det C), r = b - P d; streams that scatter by a factor v have
 *   v - 1 more on the diagonal of R, and the products within the segment are counted under it.
 *
 * @param streams - k streams, each with a value in the segment
 * @param correlation - k x k, row-major, of the streams
 */
export function estimateSegment(
  streams: readonly ScoredStream[],
  correlation: Float64Array,
  segment: Segment,
): SegmentEstimate {
  const k = streams.length;
  const sums = streams.map((stream) => sumsOf(stream, segment));
  const frames = Math.max(...sums.map(({ count }) => count), 1);
  const changes = Float64Array.from(sums, ({ wu, ww }) => wu / ww);
  // What a loose hand adds is its own in each stream, so that it stands on the diagonal alone.
  const scattered = (extra: readonly number[]): Float64Array => {
    const matrix = correlation.slice();
    extra.forEach((variance, at) => (matrix[at * k + at] = (matrix[at * k + at] ?? 1) + variance));
    return matrix;
  };
  const ofMeans = (matrix: Float64Array): Float64Array =>
    matrix.map((r, at) => r / Math.sqrt((sums[Math.floor(at / k)]?.ww ?? 1) * (sums[at % k]?.ww ?? 1)));
  const wandering = (matrix: Float64Array): Float64Array => {
    const whole = matrix.slice();
    streams.forEach(({ levelError }, at) => {
      const { w, ww } = sums[at] ?? { w: 1, ww: 1 };
      whole[at * k + at] = (whole[at * k + at] ?? 0) + (levelError * (w / ww)) ** 2;
    });
    return whole;
  };
  const plain = ofMeans(correlation);
  const plainInverse = definiteInverse(plain, k);
  const usual = wandering(plain);
  const usualInverse = definiteInverse(usual, k);
  const before = quadraticForm(plainInverse.inverse, changes) + plainInverse.logDeterminant;
  const errorsOf = (matrix: Float64Array) => streams.map((_, at) => Math.sqrt(matrix[at * k + at] ?? 1));
  const usualErrors = errorsOf(usual);

  let products: Float64Array | null = null;
  /** 2 ln of the likelihood of the values about their means with more scatter over that without. */
  function within(extra: readonly number[]): number {
    products ??= deviationProducts(streams, segment);
    const [usualOf, more] = [definiteInverse(correlation, k), definiteInverse(scattered(extra), k)];
    let sum = 0;
    products.forEach((product, at) => (sum += product * ((usualOf.inverse[at] ?? 0) - (more.inverse[at] ?? 0))));
    return sum - Math.max(0, frames - 1) * (more.logDeterminant - usualOf.logDeterminant);
  }

  function fit({ columns, scatters }: Pattern): SegmentFit {
    const extra = new Array<number>(k).fill(0);
    const factors = scatters.map(({ streams: group, most }) => {
      const squares = group.reduce((sum, at) => sum + (sums[at]?.uu ?? 0), 0);
      const count = group.reduce((sum, at) => sum + (sums[at]?.count ?? 0), 0);
      const v = Math.min(most, Math.max(1, squares / Math.max(1, count)));
      for (const at of group) extra[at] = v - 1;
      return v;
    });
    const isUsual = factors.every((v) => v <= 1);
    const whole = isUsual ? usual : wandering(ofMeans(scattered(extra)));
    const { inverse, logDeterminant } = isUsual ? usualInverse : definiteInverse(whole, k);
    const { sizes, residual, explained } = patternFit(changes, inverse, columns);
    const after = quadraticForm(inverse, residual) + logDeterminant;
    const cost = (columns.length + scatters.length) * Math.log(Math.max(2, frames));
    const errors = isUsual ? usualErrors : errorsOf(whole);
    return {
      lnLikelihood: (before - after + (isUsual ? 0 : within(extra)) - cost) / 2,
      sizes,
      moved: explained,
      left: [...residual].map((rest, at) => rest / (errors[at] ?? 1)),
      factors,
    };
  }
  return { changes, errors: usualErrors, frames, fit };
}
