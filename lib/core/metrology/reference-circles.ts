import type { Estimate } from "../errors";
import { smallestCircleAbout } from "./circumscribed-search";
import { hullOf, narrowestStrip } from "./convex-hull";
import { largestHeldCircle } from "./inscribed-search";
import { fitLeastSquares, type LeastSquaresCircle } from "./least-squares-circle";
import type { PlanePoint } from "./plane-point";
import { distancesFrom, gapFrom, surroundedBy } from "./section-distances";
import { type SectionPoints, toSectionPoints } from "./section-points";
import { smallestZone } from "./zone-search";

/** One circle, lengths in the unit of the points. */
export type Circle = { readonly centre: PlanePoint; readonly radius: number };

/** Minimum zone reference circles (MZCI): concentric, with the least radial distance `zone` that holds every point. */
export type MinimumZone = {
  readonly centre: PlanePoint;
  readonly outerRadius: number;
  readonly innerRadius: number;
  readonly zone: number;
};

/** The four reference circles of one section. The two that need points all around can have no answer. */
export type ReferenceCircles = {
  readonly leastSquares: LeastSquaresCircle;
  readonly minimumZone: Estimate<MinimumZone>;
  readonly minimumCircumscribed: Circle;
  readonly maximumInscribed: Estimate<Circle>;
};

/** Below this part of the radius the zone is rounding: all four circles are one. */
const PERFECTLY_ROUND = 1e-12;

/**
 * The four reference circles of a section (ISO 12181-1, ISO 4291), each the global optimum.
 *
 * @param points - PlanePoint[n], n >= 3, one length unit, all finite and different, not on one line
 * @returns least squares (geometric), minimum zone, minimum circumscribed and maximum inscribed circle
 * @throws CoreError too-few-values, not-finite, duplicate, degenerate
 * Method: circumscribed by exchange of its two or three points (convex); inscribed and minimum zone by branch and bound over
 * centres, down to the vertices and crossings of the nearest-point and farthest-point diagrams of few points, on one of which
 * every optimum lies. Near n log n on round, rough and cocircular sections (tests/core/growth.test.ts).
 * Accuracy: published sets to their digits; random sets against trying every vertex and crossing, and against exhaustive search
 * (tests/core/metrology/reference-circles.test.ts)
 * Edge cases: points that lie on one side only have no inscribed circle; where a strip between two lines holds the points more
 * closely than any ring, there is no minimum zone
 * Source: ISO 12181-1; ISO 4291; Ebara, Fukuyama, Nakano, Nakanishi 1989 (diagrams for the minimum zone, from memory)
 */
export function referenceCircles(points: readonly PlanePoint[]): ReferenceCircles {
  const section = toSectionPoints(points, "referenceCircles");
  const leastSquares = fitLeastSquares(section);
  const zone = leastSquares.peak + leastSquares.valley;
  if (zone <= PERFECTLY_ROUND * section.scale) {
    const { centre, radius, peak, valley } = leastSquares;
    const [outerRadius, innerRadius] = [radius + peak, radius - valley];
    const minimumZone = answer({ centre, outerRadius, innerRadius, zone });
    const maximumInscribed = surroundedBy(section, relativeTo(section, centre), Infinity)
      ? answer({ centre, radius: innerRadius })
      : NO_INSCRIBED;
    if (maximumInscribed.ok)
      return { leastSquares, minimumZone, minimumCircumscribed: { centre, radius: outerRadius }, maximumInscribed };
  }
  const hull = hullOf(section);
  return {
    leastSquares,
    minimumZone: findMinimumZone(section, hull, leastSquares),
    minimumCircumscribed: findMinimumCircumscribed(section, hull),
    maximumInscribed: findMaximumInscribed(section),
  };
}

const NO_INSCRIBED = { ok: false, reason: "the points do not surround an inscribed circle" } as const;
const NO_ZONE = {
  ok: false,
  reason: "two parallel lines hold the points more closely than any two concentric circles",
} as const;

function answer<T>(value: T): Estimate<T> {
  return { ok: true, value, warnings: [] };
}

function relativeTo(section: SectionPoints, centre: PlanePoint): PlanePoint {
  return { y: centre.y - section.origin.y, z: centre.z - section.origin.z };
}

function absolute(section: SectionPoints, y: number, z: number): PlanePoint {
  return { y: section.origin.y + y, z: section.origin.z + z };
}

function findMinimumCircumscribed(section: SectionPoints, hull: readonly number[]): Circle {
  const { y, z, radius } = smallestCircleAbout(section, hull);
  return { centre: absolute(section, y, z), radius };
}

function findMaximumInscribed(section: SectionPoints): Estimate<Circle> {
  const { y, z, radius } = largestHeldCircle(section);
  return radius === 0 ? NO_INSCRIBED : answer({ centre: absolute(section, y, z), radius });
}

function findMinimumZone(
  section: SectionPoints,
  hull: readonly number[],
  leastSquares: LeastSquaresCircle,
): Estimate<MinimumZone> {
  const start = relativeTo(section, leastSquares.centre);
  const [startInner, startOuter] = distancesFrom(section, start.y, start.z);
  const first = { zone: startOuter - startInner, inner: startInner, outer: startOuter, ...start };
  // A ring of points around a centre is wider than its zone in every direction: no need to look for a strip.
  const gap = gapFrom(section, start);
  const surelyWider = gap < Math.PI && 2 * startInner * Math.cos(gap / 2) > first.zone;
  const strip = surelyWider ? Infinity : narrowestStrip(section, hull);
  const { zone, inner, outer, y, z } = smallestZone(section, hull, first, strip);
  if (strip <= zone) return NO_ZONE;
  return answer({ centre: absolute(section, y, z), outerRadius: outer, innerRadius: inner, zone });
}
