/** Below this, in mm, µm and arc minutes alike, a feature is the noise of its arithmetic: readings that are all equal. */
const FEATURE_NOISE = 1e-6;

/** A feature as it is told from 0: equal readings give 7e-12, which is no run-out. */
export function featureWithoutNoise(value: number): number {
  return Math.abs(value) < FEATURE_NOISE ? 0 : value;
}
