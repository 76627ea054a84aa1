import { sampleMean, sampleSd } from "../numerics/descriptive-statistics";
import { type CapabilityIndex, normalIndices } from "./capability-indices";
import type { CapabilityLimits } from "./capability-limits";
import { type CapabilityRefusal, FRAMES_FOR_CHOICE, refuseCapability, type Stability } from "./process-capability";

/** Normal indices of a stream with their intervals, or a refusal in words. */
export type ProvisionalCapability =
  | {
      readonly ok: true;
      readonly frames: number;
      readonly provisional: boolean;
      readonly mean: number;
      readonly sd: number;
      readonly indices: readonly CapabilityIndex[];
    }
  | { readonly ok: false; readonly code: CapabilityRefusal; readonly reason: string };

/**
 * Quick capability of a stream: overall normal indices with their intervals, no choice of distribution, no simulation.
 * @param values - number[n] in order of time, all finite, any unit
 * @param limits - specification limits, same unit
 * @param stable - whether the stream's chart shows no signal; null when it has not been judged
 * @param confidence - two-sided, default 0.95
 * @returns Pp, Ppl, Ppu, Ppk as far as the limits go, or a reason
 * @throws CoreError not-finite, out-of-range for limits reversed
 */
export function provisionalCapability(
  values: readonly number[],
  limits: CapabilityLimits,
  stable: boolean | null,
  confidence = 0.95,
): ProvisionalCapability {
  const stability: Stability = { verdict: stable === null ? "not-judged" : stable ? "stable" : "unstable" };
  const refusal = refuseCapability({ values, limits, stability });
  if (refusal !== null) return refusal;
  const frames = values.length;
  const mean = sampleMean(values);
  const sd = sampleSd(values);
  const basis = { n: frames, degreesOfFreedom: frames - 1, confidence };
  const indices = normalIndices({ mean, sigma: sd, basis, spread: "overall" }, limits);
  return { ok: true, frames, provisional: frames < FRAMES_FOR_CHOICE, mean, sd, indices };
}
