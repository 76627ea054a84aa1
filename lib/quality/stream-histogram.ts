import { type DistributionModel, modelCdf } from "../core/distributions/distribution-model";
import { mostLikelyModel, SIZE_FAMILIES, ZERO_BOUND_FAMILIES } from "../core/capability/choose-distribution";
import { isConstant } from "../core/numerics/descriptive-statistics";
import type { StreamKind } from "./control-limits";
import { featureWithoutNoise } from "./feature-noise";

/** Frames by value: a first stretch with the curve fitted to it, and a later one in the same bins. */
export type StreamHistogram = {
  readonly edges: readonly number[];
  readonly counts: readonly number[];
  /** The later stretch, scaled to the number of frames of the first. */
  readonly later: readonly number[] | null;
  readonly model: DistributionModel | null;
  /** Expected frames a bin at each value. */
  readonly curve: { readonly value: readonly number[]; readonly count: readonly number[] } | null;
};

const MOST_BINS = 40;
const CURVE_POINTS = 80;
/** Frames from which a distribution is fitted. */
const FRAMES_TO_FIT = 25;

/** Bin width by Freedman and Diaconis 1981: 2 IQR / n^(1/3). */
function binWidth(sorted: readonly number[], span: number): number {
  const at = (p: number) => sorted[Math.floor(p * (sorted.length - 1))] ?? 0;
  const wanted = (2 * (at(0.75) - at(0.25))) / Math.cbrt(sorted.length);
  return Math.max(wanted, span / MOST_BINS);
}

function countIn(values: readonly number[], low: number, width: number, bins: number): number[] {
  const counts = new Array<number>(bins).fill(0);
  for (const value of values) {
    const bin = Math.floor((value - low) / width);
    if (bin >= 0 && bin < bins) counts[bin] = (counts[bin] ?? 0) + 1;
  }
  return counts;
}

/** The distribution that the kind of stream allows and its values fit best; null for few or equal values. */
export function streamModel(kind: StreamKind, given: readonly number[]): DistributionModel | null {
  const values = given.map(featureWithoutNoise);
  if (values.length < FRAMES_TO_FIT || isConstant(values)) return null;
  return mostLikelyModel(values, kind === "individuals" ? SIZE_FAMILIES : ZERO_BOUND_FAMILIES);
}

/**
 * @param first - the baseline, n >= 2 values, not all equal; null is given for others
 * @param later - frames of now; may be empty
 */
export function streamHistogram(
  kind: StreamKind,
  first: readonly number[],
  later: readonly number[],
): StreamHistogram | null {
  if (first.length < 2 || isConstant(first)) return null;
  const all = [...first, ...later];
  const low = all.reduce((a, b) => Math.min(a, b), Infinity);
  const high = all.reduce((a, b) => Math.max(a, b), -Infinity);
  const width = binWidth(
    first.toSorted((a, b) => a - b),
    high - low,
  );
  const start = Math.floor(low / width) * width;
  const bins = Math.floor((high - start) / width) + 1;
  const edges = Array.from({ length: bins + 1 }, (_, index) => start + index * width);
  const model = streamModel(kind, first);
  const value = Array.from({ length: CURVE_POINTS + 1 }, (_, index) => start + (index / CURVE_POINTS) * bins * width);
  return {
    edges,
    counts: countIn(first, start, width, bins),
    later:
      later.length === 0
        ? null
        : countIn(later, start, width, bins).map((count) => (count * first.length) / later.length),
    model,
    curve:
      model === null
        ? null
        : {
            value,
            count: value.map((x) => first.length * (modelCdf(model, x + width / 2) - modelCdf(model, x - width / 2))),
          },
  };
}
