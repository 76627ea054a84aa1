import { CoreError } from "../errors";
import type { DistributionModel } from "../distributions/distribution-model";
import type { FittedFamily } from "../distributions/fit-distribution";
import { normalCdf, normalQuantile } from "../distributions/normal";
import { valueGrid, withoutNoise } from "../distributions/rounded-sample";
import { isConstant } from "../numerics/descriptive-statistics";
import { createSeededGenerator } from "../numerics/seeded-generator";
import { type CapabilityIndexName, quantileIndices, referenceQuantiles } from "./capability-indices";
import type { CapabilityLimits } from "./capability-limits";
import { repeatedChoice } from "./choose-distribution";
import type { CapabilityInterval } from "./index-intervals";
import { nonconformingPpm } from "./nonconforming-fraction";

/** Sample and procedure that every resample repeats. */
export interface BootstrapInput {
  readonly values: readonly number[];
  readonly limits: CapabilityLimits;
  readonly families: readonly FittedFamily[];
  readonly tail: number;
  readonly confidence: number;
  readonly seed: number;
  readonly resamples: number;
  /** Resolution of the values where it is known; found from them otherwise. */
  readonly resolution?: number;
}

/** Intervals of the indices and of the total ppm. */
export interface BootstrapIntervals {
  readonly intervals: Readonly<Partial<Record<CapabilityIndexName, CapabilityInterval>>>;
  readonly ppm: CapabilityInterval | null;
  /** Resamples that gave no index (all values equal, no family left). */
  readonly failed: number;
}

/**
 * Bootstrap intervals of quantile indices and ppm; each resample repeats the choice of distribution by likelihood, so the
 * interval carries the doubt about the distribution too. What is rounded or censored in the sample is so in each resample.
 * @param input - sample, limits, candidate families, tail probability, confidence, seed, number of resamples >= 99
 * @returns intervals, and how many resamples failed
 * @throws CoreError out-of-range for fewer than 99 resamples
 * Method: envelope of the percentile and the bias-corrected percentile interval; the percentile interval alone covered 89 %
 * of a lognormal process at n = 100, the envelope covers 93 to 99 % (tests/bench/interval-coverage.ts).
 * Source: Efron & Tibshirani 1993, An Introduction to the Bootstrap, sections 9.6, 13.3 and 14.3
 */
export function bootstrapCapability(input: BootstrapInput): BootstrapIntervals {
  const { limits, families, tail, confidence, seed, resamples, resolution } = input;
  const values = withoutNoise(input.values);
  if (!Number.isInteger(resamples) || resamples < 99) {
    throw new CoreError("out-of-range", `bootstrapCapability: resamples must be an integer >= 99; got ${resamples}`);
  }
  const grid = valueGrid(values, resolution === undefined ? {} : { resolution });
  const choose = repeatedChoice(grid, families, values);
  const own = choose(values);
  if (own === null) return { intervals: {}, ppm: null, failed: resamples };
  const generator = createSeededGenerator(seed);
  const n = values.length;
  const byName = new Map<CapabilityIndexName, number[]>();
  const ppm: number[] = [];
  const drawn = new Array<number>(n);
  let failed = 0;
  for (let resample = 0; resample < resamples; resample++) {
    for (let i = 0; i < n; i++) drawn[i] = values[Math.floor(generator.uniform() * n)]!;
    const model: DistributionModel | null = isConstant(drawn) ? null : choose(drawn);
    if (model === null) {
      failed += 1;
      continue;
    }
    for (const { name, value } of quantileIndices(referenceQuantiles(model, tail), limits)) {
      const list = byName.get(name) ?? [];
      list.push(value);
      byName.set(name, list);
    }
    ppm.push(nonconformingPpm(model, limits).total);
  }
  const intervals: Partial<Record<CapabilityIndexName, CapabilityInterval>> = {};
  for (const { name, value } of quantileIndices(referenceQuantiles(own, tail), limits)) {
    const interval = envelopeInterval(byName.get(name) ?? [], value, confidence);
    if (interval !== null) intervals[name] = interval;
  }
  return { intervals, ppm: envelopeInterval(ppm, nonconformingPpm(own, limits).total, confidence), failed };
}

/** Envelope of the percentile and the bias-corrected percentile interval. */
function envelopeInterval(list: readonly number[], estimate: number, confidence: number): CapabilityInterval | null {
  if (list.length < 99) return null;
  const sorted = Float64Array.from(list).sort();
  const at = (p: number): number => {
    const position = p * (sorted.length + 1) - 1;
    const low = Math.min(Math.max(Math.floor(position), 0), sorted.length - 2);
    const share = Math.min(Math.max(position - low, 0), 1);
    return sorted[low]! * (1 - share) + sorted[low + 1]! * share;
  };
  const reach = -normalQuantile((1 - confidence) / 2);
  let below = 0;
  for (const value of list) below += value < estimate ? 1 : value === estimate ? 0.5 : 0;
  // half a resample on either side keeps the correction finite
  const shift = 2 * normalQuantile((below + 0.5) / (list.length + 1));
  return {
    lower: at(normalCdf(Math.min(0, shift) - reach)),
    upper: at(normalCdf(Math.max(0, shift) + reach)),
    confidence,
    method: "bootstrap",
  };
}
