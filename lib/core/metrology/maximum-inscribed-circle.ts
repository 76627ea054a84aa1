import type { Estimate } from "../errors";
import type { PlanePoint } from "./plane-point";
import { type Circle, findMaximumInscribed } from "./reference-circles";
import { toSectionPoints } from "./section-points";

/**
 * Maximum inscribed circle (MICI): the largest circle free of points that is held by points from all sides.
 *
 * @param points - PlanePoint[n], n >= 3, one length unit, all finite and different, not on one line
 * @returns the circle, or no answer where the points lie on one side only
 * @throws CoreError too-few-values, not-finite, duplicate, degenerate
 * Method, accuracy: see `referenceCircles`; local maxima exist, this is the largest
 * Source: ISO 12181-1, ISO 4291
 */
export function maximumInscribedCircle(points: readonly PlanePoint[]): Estimate<Circle> {
  const section = toSectionPoints(points, "maximumInscribedCircle");
  return findMaximumInscribed(section);
}
