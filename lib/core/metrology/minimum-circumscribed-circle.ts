import type { PlanePoint } from "./plane-point";
import { hullOf } from "./convex-hull";
import { type Circle, findMinimumCircumscribed } from "./reference-circles";
import { toSectionPoints } from "./section-points";

/**
 * Minimum circumscribed circle (MCCI): the smallest circle that holds every point.
 *
 * @param points - PlanePoint[n], n >= 3, one length unit, all finite and different, not on one line
 * @throws CoreError too-few-values, not-finite, duplicate, degenerate
 * Method, accuracy: see `referenceCircles`
 * Source: ISO 12181-1, ISO 4291
 */
export function minimumCircumscribedCircle(points: readonly PlanePoint[]): Circle {
  const section = toSectionPoints(points, "minimumCircumscribedCircle");
  return findMinimumCircumscribed(section, hullOf(section));
}
