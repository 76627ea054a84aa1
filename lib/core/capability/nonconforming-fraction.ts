import { CoreError } from "../errors";
import { fractionUpperBound } from "../distributions/binomial";
import { type DistributionModel, modelCdf, modelSf } from "../distributions/distribution-model";
import { noncentralityFromT } from "../distributions/noncentral-t";
import { normalCdf, normalSf } from "../distributions/normal";
import { createSeededGenerator } from "../numerics/seeded-generator";
import { type CapabilityLimits, requireCapabilityLimits } from "./capability-limits";
import type { CapabilityInterval } from "./index-intervals";

/** Parts per million outside the limits. */
export interface NonconformingPpm {
  readonly below: number;
  readonly above: number;
  readonly total: number;
  /** Of the total, in ppm. */
  readonly interval: CapabilityInterval | null;
}

/**
 * Fraction of a distribution outside the limits, each side evaluated in its own tail.
 * @param model - family and parameters
 * @param limits - one or two limits
 * @returns ppm below, above and in total, without interval
 * @throws CoreError out-of-range, not-finite
 * @example nonconformingPpm({ family: "normal", mean: 0, sd: 1 }, { lower: -3, upper: 3 }).total // 2699.796
 */
export function nonconformingPpm(model: DistributionModel, limits: CapabilityLimits): NonconformingPpm {
  const { lower, upper } = requireCapabilityLimits("nonconformingPpm", limits);
  const below = lower === null ? 0 : 1e6 * modelCdf(model, lower);
  const above = upper === null ? 0 : 1e6 * modelSf(model, upper);
  return { below, above, total: below + above, interval: null };
}

/** Simulated pairs of mean and sigma behind a two-sided interval: its ends are good to about 2 %. */
const PIVOTAL_DRAWS = 4000;

/**
 * Interval of the nonconforming fraction of a normal process with estimated mean and standard deviation.
 * Method: one limit: exact, by the noncentral t distribution. Two limits: generalised confidence interval, seeded draws
 * of the pivots mean - Z s/(W sqrt n) and s/W with W^2 = chi^2/nu.
 * @param sample - n, mean, sd > 0 (n - 1)
 * @param limits - one or two limits
 * @param options - two-sided confidence, seed
 * @returns interval in ppm
 * @throws CoreError out-of-range, not-finite, invalid-argument without limits
 * Source: Owen 1968, Technometrics 10(3), 445-478 (one limit); Weerahandi 1993, JASA 88, 899-905 (generalised intervals)
 */
export function normalPpmInterval(
  sample: { readonly n: number; readonly mean: number; readonly sd: number },
  limits: CapabilityLimits,
  { confidence, seed }: { readonly confidence: number; readonly seed: number },
): CapabilityInterval {
  const { lower, upper } = requireCapabilityLimits("normalPpmInterval", limits);
  const { n, mean, sd } = sample;
  if (!(n >= 2 && sd > 0 && confidence > 0 && confidence < 1)) {
    throw new CoreError("out-of-range", "normalPpmInterval: n must be >= 2, sd > 0 and confidence in (0, 1)", {
      n,
      sd,
    });
  }
  const tail = (1 - confidence) / 2;
  if (lower !== null && upper !== null) {
    const totals = pivotalTotals(sample, { lower, upper }, seed);
    return {
      lower: 1e6 * orderStatistic(totals, tail),
      upper: 1e6 * orderStatistic(totals, 1 - tail),
      confidence,
      method: "pivotal",
    };
  }
  const distance = upper !== null ? (upper - mean) / sd : lower !== null ? (mean - lower) / sd : null;
  if (distance === null)
    throw new CoreError("invalid-argument", "normalPpmInterval: limits must have at least one limit");
  const root = Math.sqrt(n);
  return {
    lower: 1e6 * normalSf(noncentralityFromT(root * distance, n - 1, tail) / root),
    upper: 1e6 * normalSf(noncentralityFromT(root * distance, n - 1, 1 - tail) / root),
    confidence,
    method: "noncentral-t",
  };
}

/**
 * Upper confidence bound of the nonconforming fraction from counted frames: holds unmeasured frames of a sampled batch
 * when it exceeds the drawing's limit.
 * @param conforming - verdict of each measured frame of the stream in order of time; the last `window` are counted
 * @param options - window (default 300 frames), one-sided confidence (default 0.95)
 * @returns fraction bound with the counts; a reason if no frame was measured
 * @throws CoreError out-of-range for the options
 * Method: Clopper-Pearson, exact; none in 300 gives 0.99 %, so a stream below 300 frames never shows less than 1 %.
 * Source: Clopper & Pearson 1934, Biometrika 26, 404-413
 */
export function recentNonconformingBound(
  conforming: readonly boolean[],
  { window = 300, confidence = 0.95 }: { readonly window?: number; readonly confidence?: number } = {},
):
  | {
      readonly ok: true;
      readonly bound: number;
      readonly nonconforming: number;
      readonly frames: number;
      readonly confidence: number;
    }
  | { readonly ok: false; readonly reason: string } {
  if (!Number.isInteger(window) || window < 1) {
    throw new CoreError("out-of-range", `recentNonconformingBound: window must be an integer >= 1; got ${window}`, {
      window,
    });
  }
  const recent = conforming.slice(-window);
  if (recent.length === 0) return { ok: false, reason: "No frame of this stream has been measured." };
  const nonconforming = recent.filter((good) => !good).length;
  const bound = fractionUpperBound(nonconforming, recent.length, confidence);
  return { ok: true, bound, nonconforming, frames: recent.length, confidence };
}

function pivotalTotals(
  { n, mean, sd }: { readonly n: number; readonly mean: number; readonly sd: number },
  { lower, upper }: { readonly lower: number; readonly upper: number },
  seed: number,
): Float64Array {
  const generator = createSeededGenerator(seed);
  const totals = new Float64Array(PIVOTAL_DRAWS);
  for (let i = 0; i < PIVOTAL_DRAWS; i++) {
    const sigma = sd / Math.sqrt(drawChiSquare(n - 1, generator) / (n - 1));
    const centre = mean - (generator.normal() * sigma) / Math.sqrt(n);
    totals[i] = normalCdf((lower - centre) / sigma) + normalSf((upper - centre) / sigma);
  }
  return totals.sort();
}

/** Marsaglia & Tsang 2000, ACM TOMS 26(3), 363-372: gamma variate of shape df/2 >= 1/2, times 2. */
function drawChiSquare(df: number, generator: { uniform: () => number; normal: () => number }): number {
  if (df < 2) {
    const z = generator.normal();
    return z * z;
  }
  const d = df / 2 - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const z = generator.normal();
    const v = (1 + c * z) ** 3;
    if (v > 0 && Math.log(generator.uniform()) < 0.5 * z * z + d - d * v + d * Math.log(v)) return 2 * d * v;
  }
}

function orderStatistic(sorted: Float64Array, p: number): number {
  const position = p * (sorted.length - 1);
  const low = Math.floor(position);
  const share = position - low;
  return sorted[low]! * (1 - share) + sorted[Math.min(low + 1, sorted.length - 1)]! * share;
}
