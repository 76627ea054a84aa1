import { plainDecimals } from "../../numerics/decimal-digits";
import { CoreError, type Estimate } from "../../errors";
import { fisherFUpperQuantile } from "../../distributions/fisher-f";
import { checkedDimensions, vectorEstimate } from "./hotelling-covariance";

/** A vector of the cross-section: towards 12 and towards 3 o'clock, one unit. */
export type ClockVector = readonly [twelve: number, three: number];

/** Ellipse and circle about the mean; lengths in the unit of the vectors. */
export type TargetRegion = Readonly<{
  /** Half axes, the major one first, and its direction in degrees clockwise from 12, 0 to below 180. */
  ellipse: Readonly<{ semiMajor: number; semiMinor: number; directionDegrees: number }>;
  /** Radius of the circle that takes both components as equally wide and independent. */
  circleRadius: number;
}>;

/** Everything a target plot shows beside its points. */
export type TargetPlot = Readonly<{
  frames: number;
  /** Independent frames that these are worth for their mean: fewer than `frames` where neighbours are alike. */
  effectiveFrames: number;
  /** Correlation of neighbouring offsets, both components together. */
  autocorrelation: number;
  mean: ClockVector;
  /** Length of the mean and its direction in degrees clockwise from 12; null where the length is 0. */
  length: number;
  directionDegrees: number | null;
  /** [variance towards 12, covariance, variance towards 3]. */
  covariance: readonly [number, number, number];
  confidence: number;
  /** Holds the true mean. */
  meanRegion: TargetRegion;
  /** Holds the next frame. */
  frameRegion: TargetRegion;
  /** Probability of a cloud at least this far from round if it is round; small: read the ellipse, not the circle. */
  roundnessP: number;
}>;

/**
 * Target plot of offset vectors: mean, and the regions of the mean and of the next frame.
 * Formula: ellipse (v - m)' S^-1 (v - m) <= k 2 (n - 1) / (n - 2) F(2, n - 2), circle |v - m|^2 <= k tr(S) F(2, 2 (n - 1))
 * with k = 1 / n for the mean and 1 + 1 / n for a frame; roundness p = W^((n - 2) / 2), W = 4 |S| / tr(S)^2. Where
 * neighbouring offsets correlate (more than two standard errors), n (1 - r) / (1 + r) stands for n in both regions.
 *
 * @param vectors - n >= 4 vectors, all finite, in the order of time
 * @param confidence - of both regions, in (0, 1), 0.95 by default
 * @returns see TargetPlot, with a warning where frames are alike; ok: false with a reason for fewer than 4 frames or no
 *   variation
 * @throws CoreError not-finite, out-of-range
 * Accuracy: exact for independent normal vectors; coverage measured in tests/core/control/hotelling.test.ts
 * Source: Johnson and Wichern, Applied Multivariate Statistical Analysis, 6th ed., 5.4, 5.5 and 5.8 (correlated vectors);
 *   roundness: Mauchly 1940, Annals of Mathematical Statistics 11(2) 204-209; correction of r: Kendall 1954, Biometrika 41
 *   403-404
 */
export function targetPlot(vectors: readonly ClockVector[], confidence = 0.95): Estimate<TargetPlot> {
  checkedDimensions("targetPlot", vectors);
  if (!(confidence > 0 && confidence < 1)) {
    throw new CoreError("out-of-range", `targetPlot: confidence must be above 0 and below 1; got ${confidence}`);
  }
  const n = vectors.length;
  if (n < 4)
    return {
      ok: false,
      reason: `A target plot with regions needs at least 4 frames; there ${n === 1 ? "is 1" : `are ${n}`}.`,
    };
  const estimate = vectorEstimate(vectors, "sample");
  const mean: ClockVector = [estimate.mean[0]!, estimate.mean[1]!];
  const [aa, ab, bb] = [estimate.covariance[0]![0]!, estimate.covariance[0]![1]!, estimate.covariance[1]![1]!];
  if (!(aa + bb > 0)) return { ok: false, reason: "All offsets are equal: the gauge does not resolve the variation." };
  const half = (aa - bb) / 2;
  const apart = Math.hypot(half, ab);
  const major = (aa + bb) / 2 + apart;
  // product form: the smaller eigenvalue without cancellation
  const minor = Math.max(0, (aa * bb - ab * ab) / major);
  const direction = (Math.atan2(ab, half) / 2) * (180 / Math.PI);
  const alpha = 1 - confidence;
  const { effective, correlation, alike } = effectiveFrames(
    vectors,
    mean,
    (major + minor) ** 2 / (major ** 2 + minor ** 2),
  );
  const ellipseScale = ((2 * (effective - 1)) / (effective - 2)) * fisherFUpperQuantile(alpha, [2, effective - 2]);
  const circleScale = (aa + bb) * fisherFUpperQuantile(alpha, [2, 2 * (effective - 1)]);
  const region = (share: number): TargetRegion => ({
    ellipse: {
      semiMajor: Math.sqrt(share * ellipseScale * major),
      semiMinor: Math.sqrt(share * ellipseScale * minor),
      directionDegrees: direction < 0 ? direction + 180 : direction,
    },
    circleRadius: Math.sqrt(share * circleScale),
  });
  const length = Math.hypot(...mean);
  return {
    ok: true,
    value: {
      frames: n,
      effectiveFrames: effective,
      autocorrelation: correlation,
      mean,
      length,
      directionDegrees: length > 0 ? clockDegrees(mean) : null,
      covariance: [aa, ab, bb],
      confidence,
      meanRegion: region(1 / effective),
      frameRegion: region(1 + 1 / effective),
      roundnessP: ((4 * major * minor) / (major + minor) ** 2) ** ((n - 2) / 2),
    },
    warnings: alike
      ? [
          `Neighbouring frames are alike (autocorrelation ${plainDecimals(correlation, 2)}): ${n} frames say as much about the mean as ${Math.round(effective)} independent ones.`,
        ]
      : [],
  };
}

/** Fewest frames for which a region of a mean exists. */
const FEWEST_EFFECTIVE = 3;
/** Frames from which neighbours are compared. */
const FEWEST_FOR_CORRELATION = 10;

/**
 * Independent frames that the mean is worth.
 *
 * @param dimensions - effective number of components, 1 for a line to 2 for a round cloud
 */
function effectiveFrames(vectors: readonly ClockVector[], mean: ClockVector, dimensions: number) {
  const n = vectors.length;
  let products = 0;
  let squares = 0;
  vectors.forEach(([up, front], index) => {
    const [u, f] = [up - mean[0], front - mean[1]];
    squares += u * u + f * f;
    const before = vectors[index - 1];
    if (before) products += u * (before[0] - mean[0]) + f * (before[1] - mean[1]);
  });
  const raw = products / squares;
  if (n < FEWEST_FOR_CORRELATION) return { effective: n, correlation: raw, alike: false };
  // The coefficient of so few values about their own mean comes out too low.
  const correlation = Math.min(0.99, (n * raw + 1) / (n - 4));
  const alike = correlation > 2 / Math.sqrt(dimensions * n);
  const effective = alike ? Math.max(FEWEST_EFFECTIVE, (n * (1 - correlation)) / (1 + correlation)) : n;
  return { effective, correlation: alike ? correlation : raw, alike };
}

/** Direction of a vector in degrees clockwise from 12 o'clock, 0 to below 360. */
export function clockDegrees([twelve, three]: ClockVector): number {
  const degrees = Math.atan2(three, twelve) * (180 / Math.PI);
  return degrees < 0 ? degrees + 360 : degrees;
}
