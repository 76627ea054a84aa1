import { describe, expect, it } from "vitest";
import { bootstrapCoverageOf, measureExactCoverage } from "./interval-coverage";

const SAMPLES = 600;
const TIMEOUT_MS = 120_000;

/** Four standard errors of a share of 95 % from so many samples. */
const fourErrors = (samples: number): number => 4 * Math.sqrt((0.95 * 0.05) / samples);

describe("interval coverage (nominal 95 %, seeded simulation)", () => {
  it(
    "exact and approximate normal methods cover at their stated rate",
    () => {
      // numbers asked: 94-96 % for exact methods; here with the error of 600 samples
      for (const { method, covered, samples } of measureExactCoverage({ n: 60, samples: SAMPLES, seed: 51 })) {
        expect(Math.abs(covered / samples - 0.95), method).toBeLessThan(fourErrors(samples));
      }
    },
    TIMEOUT_MS,
  );

  it(
    "notices intervals that are a fifth too short",
    () => {
      const short = measureExactCoverage({ n: 60, samples: SAMPLES, seed: 51, shrink: 0.8 });
      for (const { method, covered, samples } of short) {
        if (samples === SAMPLES) expect(0.95 - covered / samples, method).toBeGreaterThan(fourErrors(samples));
      }
    },
    TIMEOUT_MS,
  );

  it(
    "the bootstrap that repeats the choice of distribution covers at n = 100",
    () => {
      // numbers asked: 90-99 %; two standard errors of 50 samples below 90 %
      const { covered, samples } = bootstrapCoverageOf("Rice 20, 8", { n: 100, samples: 50, resamples: 199, seed: 52 });
      expect(covered / samples).toBeGreaterThan(0.82);
    },
    TIMEOUT_MS,
  );
});
