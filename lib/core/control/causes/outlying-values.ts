import { CoreError } from "../../errors";
import { studentTQuantile } from "../../distributions/student-t";
import { sampleMean, sampleSd } from "../../numerics/descriptive-statistics";

/** One step of the test: the value furthest from the mean of those left, its distance in their standard deviations, and the bound. */
export type OutlyingStep = Readonly<{ index: number; distance: number; bound: number }>;

/**
 * Values that do not belong to the rest, several at once (generalised extreme studentised deviate test).
 * Formula: R_i = max |x - mean| / s of what is left after i - 1 were taken out;
 *   bound = (n - i) t / sqrt((n - i - 1 + t^2)(n - i + 1)), t at 1 - alpha / (2 (n - i + 1)) with n - i - 1 degrees
 *
 * @param x - number[n], n >= 3, any unit, all finite
 * @param most - how many may be outlying, at least 1; beyond n - 2 there is nothing to compare with
 * @param alpha - chance that a steady sample of normal values has any, in (0, 1)
 * @returns steps, the furthest value first, and how many of them are outlying: the last step over its bound
 * @throws CoreError too-few-values, out-of-range, not-finite
 * Edge cases: all values left equal -> no further step
 * Accuracy: steps and bounds of the handbook's example, tests/core/control/causes/outlying-values.test.ts
 * Source: Rosner 1983, Technometrics 25(2) 165-172; NIST/SEMATECH e-Handbook 1.3.5.17.3
 */
export function outlyingValues(
  x: readonly number[],
  most: number,
  alpha: number,
): { readonly steps: readonly OutlyingStep[]; readonly count: number } {
  const n = x.length;
  if (n < 3) throw new CoreError("too-few-values", `outlyingValues: x must have at least 3 values; got ${n}`);
  if (!(most >= 1)) throw new CoreError("out-of-range", `outlyingValues: most must be at least 1; got ${most}`);
  if (!(alpha > 0 && alpha < 1))
    throw new CoreError("out-of-range", `outlyingValues: alpha must be in (0, 1); got ${alpha}`);
  const left = new Set(x.keys());
  const steps: OutlyingStep[] = [];
  for (let i = 1; i <= Math.min(most, n - 2); i += 1) {
    const values = [...left].map((index) => x[index] ?? 0);
    const [mean, sd] = [sampleMean(values), sampleSd(values)];
    if (!(sd > 0)) break;
    const index = [...left].reduce((far, at) =>
      Math.abs((x[at] ?? 0) - mean) > Math.abs((x[far] ?? 0) - mean) ? at : far,
    );
    const t = studentTQuantile(1 - alpha / (2 * (n - i + 1)), n - i - 1);
    steps.push({
      index,
      distance: Math.abs((x[index] ?? 0) - mean) / sd,
      bound: ((n - i) * t) / Math.sqrt((n - i - 1 + t * t) * (n - i + 1)),
    });
    left.delete(index);
  }
  return { steps, count: steps.findLastIndex(({ distance, bound }) => distance > bound) + 1 };
}
