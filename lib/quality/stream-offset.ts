import { fitBivariateNormal, type OffsetVector } from "../core/capability/offset-capability";
import { betaUpperQuantile } from "../core/distributions/beta";
import { fisherFUpperQuantile } from "../core/distributions/fisher-f";
import { APPROVABLE_FRAMES, type EstimatedLimits, PROVISIONAL_FRAMES } from "./control-limits";

/** Probability of a false alarm a frame, that of three standard deviations. */
const FALSE_ALARM = 0.0026997960632601866;
/** Components of the vector: also the mean of T2 while nothing changes. */
export const OFFSET_COMPONENTS = 2;
/** Share of the product of variances below which the determinant is rounding: the offsets lie on a line. */
const SMALLEST_SHARE = 1e-9;

/** Limits of the offset vector: its mean, its covariance, and the T2 limit of later frames. µm towards 12 and towards 3. */
export type OffsetLimits = {
  readonly mean: OffsetVector;
  readonly covariance: readonly [twelve: number, both: number, three: number];
  readonly upper: number;
  /** For the frames of the baseline themselves, whose own values are in the estimates. */
  readonly upperInBaseline: number;
  readonly frames: number;
  readonly provisional: boolean;
};

/** Hotelling's T2 of one offset about limits. */
export function offsetT2([y, z]: OffsetVector, { mean, covariance }: OffsetLimits): number {
  const [dy, dz] = [y - mean[0], z - mean[1]];
  const [a, b, c] = covariance;
  return (c * dy * dy - 2 * b * dy * dz + a * dz * dz) / (a * c - b * b);
}

/**
 * Limits of the offset vector from a baseline.
 * Formula: later frames 2 (n + 1)(n - 1) / (n (n - 2)) F(alpha; 2, n - 2); baseline frames (n - 1)^2 / n
 *   Beta(alpha; 1, (n - 3) / 2); alpha 0.0027
 *
 * @returns ok: false with the reason for fewer than 25 frames or offsets that lie on a line
 * Source: Tracy, Young & Mason 1992, Journal of Quality Technology 24(2) 88-95
 */
export function estimateOffsetLimits(offsets: readonly OffsetVector[]): EstimatedLimits<OffsetLimits> {
  const n = offsets.length;
  if (n < PROVISIONAL_FRAMES)
    return { ok: false, reason: { code: "too-few-frames", needed: PROVISIONAL_FRAMES, frames: n } };
  const { mean, covariance } = fitBivariateNormal(offsets);
  const [a, b, c] = covariance;
  if (!(a * c - b * b > SMALLEST_SHARE * a * c)) return { ok: false, reason: { code: "on-a-line" } };
  const later =
    ((OFFSET_COMPONENTS * (n + 1) * (n - 1)) / (n * (n - OFFSET_COMPONENTS))) *
    fisherFUpperQuantile(FALSE_ALARM, [OFFSET_COMPONENTS, n - OFFSET_COMPONENTS]);
  const own =
    ((n - 1) ** 2 / n) * betaUpperQuantile(FALSE_ALARM, OFFSET_COMPONENTS / 2, (n - OFFSET_COMPONENTS - 1) / 2);
  return {
    ok: true,
    value: {
      mean,
      covariance,
      upper: later,
      upperInBaseline: own,
      frames: n,
      provisional: n < APPROVABLE_FRAMES,
    },
  };
}

/** A frame whose offset vector is beyond the limit. */
export type OffsetSignal = {
  readonly index: number;
  readonly t2: number;
  readonly limit: number;
  /** From the mean, µm, and where to, as from the drive side. */
  readonly byUm: number;
  readonly clockDeg: number;
};

/**
 * Frames beyond the limit: how far and where to.
 *
 * @param baseline - places of the frames from which the limits come
 */
export function offsetSignals(
  offsets: readonly OffsetVector[],
  limits: OffsetLimits,
  baseline: ReadonlySet<number> = new Set(),
): OffsetSignal[] {
  return offsets.flatMap((offset, index) => {
    const t2 = offsetT2(offset, limits);
    const limit = baseline.has(index) ? limits.upperInBaseline : limits.upper;
    if (t2 <= limit) return [];
    const [dy, dz] = [offset[0] - limits.mean[0], offset[1] - limits.mean[1]];
    const clockDeg = (Math.atan2(dz, dy) * 180) / Math.PI;
    return [{ index, t2, limit, byUm: Math.hypot(dy, dz), clockDeg }];
  });
}
