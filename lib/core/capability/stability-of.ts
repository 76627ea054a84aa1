import { poissonSf } from "../distributions/poisson";
import type { Stability } from "./process-capability";

/**
 * Frames between false signals of the limit test, at the unlucky end (5 %) for limits that rest on 100 frames: nominal 370
 * becomes 95 (seeded simulation of estimated limits).
 */
const SHORT_RUN_LENGTH = 95;
/** A stream is taken for unstable when chance gives so many signals less often than this. */
const CHANCE = 0.01;

/**
 * Stability by the frames beyond the control limits: limits give false signals too, and estimated limits more of them, so a
 * stream is unstable when chance does not explain their number.
 *
 * @param beyond - frames beyond the control limits
 */
export function stabilityOf(beyond: number, frames: number): Stability {
  const expected = frames / SHORT_RUN_LENGTH;
  if (beyond === 0 || poissonSf(beyond - 1, expected) >= CHANCE) return { verdict: "stable" };
  const because = `${beyond} of the last ${frames} frames are beyond the control limits, chance explains ${Math.ceil(expected)}`;
  return { verdict: "unstable", because };
}
