import { CoreError } from "../errors";
import { normalRangeMoments } from "../distributions/normal-range";

/** From more samples than this on the handbooks divide by the mean of the range alone. */
const MOST_SAMPLES_CORRECTED = 15;

/**
 * Divisor that makes a standard deviation of the mean range of samples: d2* of `samples` samples of `size` values.
 * Formula: d2* = sqrt(d2^2 + d3^2 / samples), with d2 and d3 mean and sd of the range of `size` standard normal values; d2 for
 *   more than 15 samples, as handbooks of repeatability and reproducibility print it
 *
 * @param size - values of one sample, integer 2..100
 * @param samples - number of samples whose ranges are averaged, integer >= 1
 * @returns the divisor, without unit
 * @throws CoreError out-of-range for another size or number of samples
 * Accuracy: 9 digits of 1/d2* on tests/reference/gauge-studies.json
 * Source: Patnaik 1950, Biometrika 37, 78-87 (from memory); Duncan, Quality Control and Industrial Statistics, appendix D3 (from memory)
 */
export function rangeConstant(size: number, samples: number): number {
  if (!Number.isInteger(samples) || samples < 1)
    throw new CoreError("out-of-range", `rangeConstant: samples must be an integer >= 1; got ${samples}`, { samples });
  const { mean, sd } = normalRangeMoments(size);
  return samples > MOST_SAMPLES_CORRECTED ? mean : Math.sqrt(mean * mean + (sd * sd) / samples);
}
