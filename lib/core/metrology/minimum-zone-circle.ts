import type { Estimate } from "../errors";
import type { PlanePoint } from "./plane-point";
import { type MinimumZone, referenceCircles } from "./reference-circles";

/**
 * Minimum zone reference circles (MZCI): the two concentric circles of least radial distance that hold every point.
 *
 * @param points - PlanePoint[n], n >= 3, one length unit, all finite and different, not on one line
 * @returns centre, both radii and the zone, or no answer where a strip holds the points more closely than any ring
 * @throws CoreError too-few-values, not-finite, duplicate, degenerate
 * Method, accuracy: see `referenceCircles`; never larger than the zone about the least squares centre
 * Source: ISO 12181-1, ISO 4291
 */
export function minimumZoneCircle(points: readonly PlanePoint[]): Estimate<MinimumZone> {
  return referenceCircles(points).minimumZone;
}
