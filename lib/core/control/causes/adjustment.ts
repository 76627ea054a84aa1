import { fractionOutsideCircle } from "../../distributions/bivariate-normal";
import { fisherFSf, fisherFUpperQuantile } from "../../distributions/fisher-f";
import { CoreError, type Estimate } from "../../errors";
import { targetPlot, type ClockVector, type TargetPlot } from "../charts/hotelling-target";

export type AdjustmentOptions = Readonly<{
  /** Radius of the zone in which frames conform, in the unit of the offsets. */
  zoneRadius: number;
  /** Smallest mean offset that is worth touching a fixture for, same unit; a fifth of the zone's radius by default. */
  deadBand?: number;
  /** Of the test of the mean and of its region, 0.95 by default. */
  confidence?: number;
  /** Frames since the last adjustment, the offsets given; fewer than `settle` of them advise nothing. */
  settle?: number;
}>;

/** A move of the locator: against the mean, along the clock. */
export type LocatorMove = Readonly<{
  /** Length of the move and its interval (radius of the mean's circle), same unit as the offsets. */
  by: number;
  interval: readonly [low: number, high: number];
  /** Degrees clockwise from 12 seen from the drive side, and the half hour next to it. */
  towardsDegrees: number;
  towardsClock: string;
  /** Components: towards 12 and towards 3. */
  towards12: number;
  towards3: number;
}>;

export type Adjustment = Readonly<{
  target: TargetPlot;
  /** Hotelling's test of the mean against the axis. */
  t2: number;
  limit: number;
  pValue: number;
  significant: boolean;
  /** Fraction of frames outside the zone as it stands, and with the mean moved onto the axis. */
  outsideNow: number;
  outsideAfter: number;
  advice: { readonly kind: "move"; readonly move: LocatorMove } | { readonly kind: "leave"; readonly because: string };
}>;

/** Share of the zone's radius below which a move is not worth it. Common practice, no source. */
const USUAL_DEAD_BAND = 0.2;
/** Frames at the new level before an adjustment counts as done. Common practice, no source. */
const USUAL_SETTLE = 5;

function clockOf(degrees: number): string {
  const halfHours = Math.round(degrees / 15) % 24;
  const hour = Math.floor(halfHours / 2);
  return `${hour === 0 ? 12 : hour}${halfHours % 2 === 1 ? ":30" : ""}`;
}

/**
 * Whether and how a locator has to be moved: the mean offset vector with its region, its significance, and a move only where
 * the mean is significantly off the axis and further than a dead band (over-adjustment guard). Frames that are alike count for
 * fewer: n is targetPlot's effectiveFrames.
 * Formula: T2 = n m' S^-1 m against 2 (n - 1) / (n - 2) F(2, n - 2); move = -m.
 *
 * @param offsets - n >= 4 vectors [towards 12, towards 3] of frames since the last adjustment, all finite, one unit
 * @param options - see AdjustmentOptions
 * @returns see Adjustment; ok: false with a reason for too few frames or no variation
 * @throws CoreError out-of-range for a zone radius, dead band or confidence outside its range; not-finite
 * Accuracy: fractions outside to 1e-10 by the exact bivariate normal; false moves measured in
 *   tests/core/control/causes/adjustment.test.ts
 * Source: Hotelling 1931, Annals of Mathematical Statistics 2(3) 360-378; Johnson and Wichern, Applied Multivariate
 *   Statistical Analysis, 6th ed., 5.2; over-adjustment: Deming, Out of the Crisis, 1986, chapter 11
 */
export function adjustment(offsets: readonly ClockVector[], options: AdjustmentOptions): Estimate<Adjustment> {
  const { zoneRadius, confidence = 0.95, settle = USUAL_SETTLE } = options;
  const deadBand = options.deadBand ?? USUAL_DEAD_BAND * zoneRadius;
  if (!(zoneRadius > 0 && zoneRadius < Infinity))
    throw new CoreError("out-of-range", `adjustment: zoneRadius must be finite and above 0; got ${zoneRadius}`);
  if (!(deadBand >= 0 && deadBand < Infinity))
    throw new CoreError("out-of-range", `adjustment: deadBand must be finite and at least 0; got ${deadBand}`);
  const plot = targetPlot(offsets, confidence);
  if (!plot.ok) return plot;
  const { frames, effectiveFrames: n, mean, covariance, length, directionDegrees, meanRegion } = plot.value;
  const [a, b, c] = covariance;
  const determinant = a * c - b * b;
  if (!(determinant > 0))
    return { ok: false, reason: "The offsets lie on one line: their directions vary too little for a test." };
  const [up, front] = mean;
  const t2 = (n * (c * up * up - 2 * b * up * front + a * front * front)) / determinant;
  const scale = (2 * (n - 1)) / (n - 2);
  const limit = scale * fisherFUpperQuantile(1 - confidence, [2, n - 2]);
  const significant = t2 > limit;
  const outside = (x: number, y: number): number => fractionOutsideCircle({ mean: [x, y], covariance }, zoneRadius);
  const leave = (because: string): Adjustment["advice"] => ({ kind: "leave", because });
  const advice: Adjustment["advice"] =
    frames < settle
      ? leave(`only ${frames} frames since the last adjustment; ${settle} are waited for`)
      : !significant
        ? leave("the mean offset is not significantly off the axis")
        : length <= deadBand || directionDegrees === null
          ? leave("the mean is off, but by less than the dead band: a move would gain nothing")
          : { kind: "move", move: moveAgainst(mean, length, directionDegrees, meanRegion.circleRadius) };
  return {
    ok: true,
    warnings: plot.warnings,
    value: {
      target: plot.value,
      t2,
      limit,
      pValue: fisherFSf(t2 / scale, [2, n - 2]),
      significant,
      outsideNow: outside(up, front),
      outsideAfter: outside(0, 0),
      advice,
    },
  };
}

function moveAgainst([up, front]: ClockVector, length: number, directionDegrees: number, radius: number): LocatorMove {
  const towardsDegrees = (directionDegrees + 180) % 360;
  return {
    by: length,
    interval: [Math.max(0, length - radius), length + radius],
    towardsDegrees,
    towardsClock: clockOf(towardsDegrees),
    towards12: 0 - up,
    towards3: 0 - front,
  };
}
