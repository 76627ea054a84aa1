import { changePoint, type ChangeKind } from "../core/control/causes/change-point";
import { isConstant, sampleMean, sampleSd } from "../core/numerics/descriptive-statistics";
import { featureNamed, type FeatureName } from "../core/metrology/features";

/** Frames of a stretch below which nothing is said about it. */
const FEWEST_FRAMES = 12;
/** Newest frames from which it is said what a stream does, however many of them are shown. A choice, no source. */
export const FINDING_FRAMES = 300;
/** Frames that make the present level. */
export const PRESENT_FRAMES = 25;
/** A significant change smaller than this many standard deviations of one frame is not worth a headline. */
const WORTH_SAYING = 0.75;
/** Chance that a steady stretch is called changed: many streams are looked at, so less than the usual 5 %. */
const FALSE_CALL = 0.01;

/** What a stretch of a stream says, in its own unit; indices count the values given. */
export type StreamFinding =
  | { readonly kind: "few"; readonly frames: number }
  | { readonly kind: "steady"; readonly level: number; readonly sd: number }
  | {
      readonly kind: "moved";
      readonly shape: ChangeKind;
      /** First frame after the change, and the range of frames that it may be at 95 % confidence. */
      readonly since: number;
      readonly earliest: number;
      readonly latest: number;
      /** Level before, level now, and change from frame to frame along a drift. */
      readonly before: number;
      readonly now: number;
      readonly slope: number;
      /** First frame of the stretch that was looked at. */
      readonly from: number;
    }
  | {
      readonly kind: "off-baseline";
      /** First frame of the stretch that was looked at. */
      readonly from: number;
      readonly baseline: number;
      readonly now: number;
    };

/** What was done that begins a new stretch of a feature: a reamer cuts both bores, a fixture holds both axes. */
export function startsStretch(feature: FeatureName | "offset", eventKind: string): boolean {
  switch (feature === "offset" ? "coaxiality" : featureNamed(feature).characteristic) {
    case "bore":
    case "ovality":
    case "taper":
      return eventKind === "reamer changed";
    case "coaxiality":
    case "tilt":
    case "face run-out":
      return eventKind === "fixture shimmed";
    case "width":
      return false;
  }
}

/**
 * The newest thing that a stream did: a step or a drift, or a level that is not the baseline's.
 *
 * @param values - one value a frame in the order of measuring, all finite
 * @param starts - indices at which a new stretch begins (a reamer was changed); the last one with enough frames after it counts
 * @param baseline - centre of the limits in force, or null where there are none
 * @returns indices count `values`
 */
export function streamFinding(
  values: readonly number[],
  starts: readonly number[] = [],
  baseline: number | null = null,
): StreamFinding {
  const from = starts.filter((start) => start >= 0 && values.length - start >= PRESENT_FRAMES).at(-1) ?? 0;
  const stretch = values.slice(from);
  if (stretch.length < FEWEST_FRAMES || isConstant(stretch)) return { kind: "few", frames: stretch.length };
  const present = stretch.slice(-PRESENT_FRAMES);
  const change = changePoint(stretch, { minimumSegment: 3 });
  if (change.ok && change.value.pValue < FALSE_CALL) {
    const { kind, lastBefore, before, after, slope, sigma, confidenceSet } = change.value;
    if (Math.abs(after - before) > WORTH_SAYING * sigma)
      return {
        kind: "moved",
        shape: kind,
        since: from + lastBefore + 1,
        earliest: from + (confidenceSet[0] ?? lastBefore) + 1,
        latest: from + (confidenceSet.at(-1) ?? lastBefore) + 1,
        before,
        now: after,
        slope,
        from,
      };
  }
  const level = sampleMean(present);
  const sd = sampleSd(stretch);
  if (
    baseline !== null &&
    Math.abs(level - baseline) > Math.max(WORTH_SAYING * sd, (3 * sd) / Math.sqrt(present.length))
  )
    return { kind: "off-baseline", from, baseline, now: level };
  return { kind: "steady", level, sd };
}
