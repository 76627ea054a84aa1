import {
  type Coverage,
  measureBootstrapCoverage,
  measureExactCoverage,
  measureRoundedCoverage,
} from "../core/capability/interval-coverage";
import type { BenchLine } from "./run";

/** Samples behind each figure; the standard error of a share of 95 % is 0.15 % with 20,000 and 1.1 % with 400. */
const EXACT_SAMPLES = 20_000;
const BOOTSTRAP_SAMPLES = 400;
const RESAMPLES = 199;
/** Fewer, since there are four times as many; the standard error is 1.5 %. */
const ROUNDED_SAMPLES = 200;
/** µm: what indicators show. */
const RESOLUTIONS = [0.5, 1];

/**
 * Coverage of the capability intervals by seeded simulation: the share of intervals of nominal 95 % that contain the true
 * value. Exact methods must lie within 94-96 %, chosen-distribution methods within 90-99 % at n = 100 and 300. The figure
 * of each line is the distance in percentage points from the middle of its band; the share itself is in its name.
 * Takes some half an hour.
 */
export function bench(): BenchLine[] {
  return [
    ...measureExactCoverage({ n: 50, samples: EXACT_SAMPLES, seed: 41 }),
    ...measureExactCoverage({ n: 200, samples: EXACT_SAMPLES, seed: 42 }),
    ...measureBootstrapCoverage({ n: 100, samples: BOOTSTRAP_SAMPLES, resamples: RESAMPLES, seed: 43 }),
    ...measureBootstrapCoverage({ n: 300, samples: BOOTSTRAP_SAMPLES, resamples: RESAMPLES, seed: 44 }),
    ...RESOLUTIONS.flatMap((resolution) => [
      ...measureRoundedCoverage({ n: 100, samples: ROUNDED_SAMPLES, resamples: RESAMPLES, seed: 45, resolution }),
      ...measureRoundedCoverage({ n: 300, samples: ROUNDED_SAMPLES, resamples: RESAMPLES, seed: 46, resolution }),
    ]),
  ].map(coverageLine);
}

function coverageLine({ method, n, covered, samples, band }: Coverage): BenchLine {
  const share = (100 * covered) / samples;
  const [low, high] = band ?? [0.94, 0.96];
  const error = Math.sqrt((share * (100 - share)) / samples);
  return {
    name: `${method}, n ${n}: covers ${share.toFixed(2)} % +- ${error.toFixed(2)}, points from ${50 * (low + high)} %`,
    value: Math.abs(share - 50 * (low + high)),
    goal: band === null ? null : Math.round(5000 * (high - low)) / 100,
  };
}
