import { type OffsetVector } from "../core/capability/offset-capability";
import { changePoint } from "../core/control/causes/change-point";
import { targetPlot, type TargetPlot } from "../core/control/charts/hotelling-target";
import { fisherFUpperQuantile } from "../core/distributions/fisher-f";
import type { Estimate } from "../core/errors";
import type { EstimatedLimits } from "./control-limits";
import { estimateOffsetLimits, offsetT2, type OffsetLimits } from "./stream-offset";

/** Frames that are taken as the present where nothing changed. */
const PRESENT_FRAMES = 30;
const FEWEST_AFTER = 5;
const FALSE_CALL = 0.01;

/** What the offsets of one line say. Indices count the points given; lengths in µm. */
export type OffsetReading = {
  readonly limits: EstimatedLimits<OffsetLimits>;
  /** T2 of each point, 0 where there are no limits. */
  readonly t2: readonly number[];
  readonly beyond: readonly number[];
  /** First frame of the present stretch, and whether it begins with a significant change. */
  readonly since: number;
  readonly changed: boolean;
  /** The present stretch begins with a shim: what lay before it says nothing about now. */
  readonly shimmed: boolean;
  /** Frames from the earliest to the latest place of the change. */
  readonly range: readonly [earliest: number, latest: number] | null;
  readonly target: Estimate<TargetPlot>;
  /** T2 of the present mean against the axis of the datum, and its 5 % limit. */
  readonly meanT2: { readonly t2: number; readonly limit: number; readonly significant: boolean } | null;
};

/** Where the offset changed along the direction in which the newest frames lie from the baseline. */
function changeOf(offsets: readonly OffsetVector[], mean: OffsetVector) {
  const newest = offsets.slice(-PRESENT_FRAMES);
  const y = newest.reduce((sum, one) => sum + one[0] - mean[0], 0);
  const z = newest.reduce((sum, one) => sum + one[1] - mean[1], 0);
  const length = Math.hypot(y, z);
  if (!(length > 0)) return null;
  const along = offsets.map((one) => ((one[0] - mean[0]) * y + (one[1] - mean[1]) * z) / length);
  const change = changePoint(along, { kinds: ["step"], minimumSegment: FEWEST_AFTER });
  if (!change.ok || change.value.pValue >= FALSE_CALL) return null;
  const { lastBefore, confidenceSet } = change.value;
  return {
    since: lastBefore + 1,
    range: [(confidenceSet[0] ?? lastBefore) + 1, (confidenceSet.at(-1) ?? lastBefore) + 1] as const,
  };
}

function testMean(target: Estimate<TargetPlot>): OffsetReading["meanT2"] {
  if (!target.ok) return null;
  const { frames, effectiveFrames: n, mean, covariance } = target.value;
  const [a, b, c] = covariance;
  const determinant = a * c - b * b;
  if (!(determinant > 0) || frames < 4) return null;
  const [y, z] = mean;
  const t2 = (n * (c * y * y - 2 * b * y * z + a * z * z)) / determinant;
  const limit = ((2 * (n - 1)) / (n - 2)) * fisherFUpperQuantile(0.05, [2, n - 2]);
  return { t2, limit, significant: t2 > limit };
}

/**
 * Offsets of one line: limits from the baseline, what is beyond them, where the present stretch begins, and its mean with
 * the regions of the mean and of a frame.
 *
 * @param offsets - µm towards 12 and towards 3, in the order of measuring
 * @param shim - index of the first offset after the newest shim, their number where none was measured since; null without one
 */
export function readOffsets(
  offsets: readonly OffsetVector[],
  baseline: readonly OffsetVector[],
  shim: number | null = null,
): OffsetReading {
  const limits = estimateOffsetLimits(baseline);
  const t2 = offsets.map((one) => (limits.ok ? offsetT2(one, limits.value) : 0));
  const beyond = limits.ok ? t2.flatMap((value, index) => (value > limits.value.upper ? [index] : [])) : [];
  const found = limits.ok && offsets.length >= 12 ? changeOf(offsets, limits.value.mean) : null;
  const shimmed = shim !== null && shim > (found?.since ?? 0);
  const change = shimmed ? null : found;
  const since = shimmed
    ? Math.max(shim, offsets.length - PRESENT_FRAMES)
    : (change?.since ?? Math.max(0, offsets.length - PRESENT_FRAMES));
  const target = targetPlot(offsets.slice(since));
  return {
    limits,
    t2,
    beyond,
    since,
    changed: change !== null,
    shimmed,
    range: change?.range ?? null,
    target,
    meanT2: testMean(target),
  };
}

/** What to tell the person at the fixture: to move the locator, against the mean, or to leave it alone. */
export type MoveAdvice =
  | {
      readonly kind: "move";
      readonly byUm: number;
      readonly towardsDegrees: number;
      readonly upUm: number;
      readonly frontUm: number;
    }
  | { readonly kind: "leave"; readonly because: "not-significant" | "small" | "too-few" | "shimmed" | "old" };

/** Smallest share of the zone's radius that is worth touching a fixture for. Common practice, no source. */
const DEAD_BAND = 0.2;
/** Frames older than so many days say nothing about how a fixture stands now. A choice, no source. */
const OLDEST_DAYS = 7;
/** Frames after a shim from which the next one may be advised. Common practice, no source. */
const FRAMES_AFTER_SHIM = 5;
const DAY_MS = 86_400_000;

/**
 * Over-adjustment guard: a move only when the mean is significantly off the axis and further than a dead band.
 *
 * @param zoneUm - diameter of the coaxiality zone
 * @param now.frames - in the present stretch
 * @param now.ageMs - of the newest frame; null where it does not matter
 */
export function adviseMove(
  reading: OffsetReading,
  zoneUm: number,
  now: { readonly frames: number; readonly ageMs: number | null } = { frames: Infinity, ageMs: null },
): MoveAdvice {
  const { target, meanT2, shimmed } = reading;
  if (now.ageMs !== null && now.ageMs > OLDEST_DAYS * DAY_MS) return { kind: "leave", because: "old" };
  if (shimmed && now.frames < FRAMES_AFTER_SHIM) return { kind: "leave", because: "shimmed" };
  if (!target.ok || meanT2 === null) return { kind: "leave", because: "too-few" };
  if (!meanT2.significant) return { kind: "leave", because: "not-significant" };
  const { mean, length, directionDegrees } = target.value;
  if (length < (DEAD_BAND * zoneUm) / 2 || directionDegrees === null) return { kind: "leave", because: "small" };
  return {
    kind: "move",
    byUm: length,
    towardsDegrees: (directionDegrees + 180) % 360,
    upUm: 0 - mean[0],
    frontUm: 0 - mean[1],
  };
}
