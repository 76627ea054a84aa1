import type { Estimate } from "../errors";
import { EDGE_SLACK, type EquidistantEdge, type EquidistantEdges, equidistantEdges } from "./equidistant-edges";
import { fitLeastSquares, type LeastSquaresCircle } from "./least-squares-circle";
import type { PlanePoint } from "./plane-point";
import { type SectionPoints, toSectionPoints } from "./section-points";

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
 * Method: every optimum lies on the nearest-point and farthest-point diagrams of the points: circumscribed on an edge of the
 * farthest, inscribed on a vertex of the nearest, minimum zone on a vertex of either or a crossing of both. All are tried.
 * Accuracy: published sets to their digits, exhaustive search on random sets (tests/core/metrology/reference-circles.test.ts)
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
  const edges = equidistantEdges(section);
  return {
    leastSquares,
    minimumZone: findMinimumZone(section, edges, leastSquares),
    minimumCircumscribed: findMinimumCircumscribed(section, edges),
    maximumInscribed: findMaximumInscribed(section, edges),
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

/** Smallest and largest distance of the points from a centre. */
function distances({ n, y, z }: SectionPoints, cy: number, cz: number): [number, number] {
  let least = Infinity;
  let most = 0;
  for (let i = 0; i < n; i++) {
    const dy = y[i]! - cy;
    const dz = z[i]! - cz;
    const square = dy * dy + dz * dz;
    if (square < least) least = square;
    if (square > most) most = square;
  }
  return [Math.sqrt(least), Math.sqrt(most)];
}

export function findMinimumCircumscribed(section: SectionPoints, edges: EquidistantEdges): Circle {
  let [best, bestY, bestZ] = [Infinity, 0, 0];
  for (const edge of edges.farthest) {
    const s = Math.min(Math.max(0, edge.from), Math.max(edge.from, edge.to));
    const [y, z] = [edge.middleY + s * edge.directionY, edge.middleZ + s * edge.directionZ];
    const radius = Math.sqrt((section.y[edge.i]! - y) ** 2 + (section.z[edge.i]! - z) ** 2);
    if (radius >= best) continue;
    const most = distances(section, y, z)[1];
    if (most < best) [best, bestY, bestZ] = [most, y, z];
  }
  return { centre: absolute(section, bestY, bestZ), radius: best };
}

export function findMaximumInscribed(section: SectionPoints, edges: EquidistantEdges): Estimate<Circle> {
  const vertices: { radius: number; y: number; z: number }[] = [];
  for (const edge of edges.nearest)
    for (const s of [edge.from, edge.to]) {
      if (!Number.isFinite(s)) continue;
      const [y, z] = [edge.middleY + s * edge.directionY, edge.middleZ + s * edge.directionZ];
      vertices.push({ radius: Math.sqrt((section.y[edge.i]! - y) ** 2 + (section.z[edge.i]! - z) ** 2), y, z });
    }
  vertices.sort((a, b) => b.radius - a.radius);
  for (const vertex of vertices) {
    const least = distances(section, vertex.y, vertex.z)[0];
    if (surroundedBy(section, vertex, least + 10 * EDGE_SLACK * section.scale))
      return answer({ centre: absolute(section, vertex.y, vertex.z), radius: least });
  }
  return NO_INSCRIBED;
}

/** Largest angle between neighbouring directions, rad. Sorts in place. */
export function largestGap(angles: number[]): number {
  angles.sort((a, b) => a - b);
  let gap = angles[0]! + 2 * Math.PI - angles[angles.length - 1]!;
  for (let i = 1; i < angles.length; i++) gap = Math.max(gap, angles[i]! - angles[i - 1]!);
  return gap;
}

/** Whether the points within `reach` of a centre pull it from all sides: no gap of half a turn. */
function surroundedBy({ n, y, z }: SectionPoints, centre: PlanePoint, reach: number): boolean {
  const angles: number[] = [];
  for (let i = 0; i < n; i++) {
    const dy = y[i]! - centre.y;
    const dz = z[i]! - centre.z;
    if (Math.sqrt(dy * dy + dz * dz) <= reach) angles.push(Math.atan2(dz, dy));
  }
  return angles.length >= 3 && largestGap(angles) < Math.PI - 1e-9;
}

export function findMinimumZone(
  section: SectionPoints,
  edges: EquidistantEdges,
  leastSquares: LeastSquaresCircle,
): Estimate<MinimumZone> {
  const start = relativeTo(section, leastSquares.centre);
  let best = { zone: Infinity, inner: 0, outer: 0, y: 0, z: 0 };
  const tryCentre = (y: number, z: number) => {
    const [inner, outer] = distances(section, y, z);
    if (outer - inner < best.zone) best = { zone: outer - inner, inner, outer, y, z };
  };
  tryCentre(start.y, start.z);
  for (const edge of [...edges.farthest, ...edges.nearest]) {
    if (Number.isFinite(edge.from))
      tryCentre(edge.middleY + edge.from * edge.directionY, edge.middleZ + edge.from * edge.directionZ);
    if (Number.isFinite(edge.to))
      tryCentre(edge.middleY + edge.to * edge.directionY, edge.middleZ + edge.to * edge.directionZ);
  }
  for (const far of edges.farthest)
    for (const near of edges.nearest) tryCrossing(section, far, near, best.zone, tryCentre);
  const { zone, inner, outer, y, z } = best;
  // A ring of points around a centre is wider than its zone in every direction: no need to look for a strip.
  const gap = largestGap(Array.from(section.y, (py, i) => Math.atan2(section.z[i]! - z, py - y)));
  const surelyWider = gap < Math.PI && 2 * inner * Math.cos(gap / 2) > zone;
  if (!surelyWider && narrowestStrip(section) <= zone) return NO_ZONE;
  return answer({ centre: absolute(section, y, z), outerRadius: outer, innerRadius: inner, zone });
}

/** Tries the crossing of a farthest with a nearest edge, if it lies on both and its zone can be smaller than `bound`. */
function tryCrossing(
  section: SectionPoints,
  far: EquidistantEdge,
  near: EquidistantEdge,
  bound: number,
  tryCentre: (y: number, z: number) => void,
): void {
  const cross = far.directionY * near.directionZ - far.directionZ * near.directionY;
  if (Math.abs(cross) < 1e-12) return;
  const slack = EDGE_SLACK * section.scale;
  const my = near.middleY - far.middleY;
  const mz = near.middleZ - far.middleZ;
  const s = (my * near.directionZ - mz * near.directionY) / cross;
  if (!(s >= far.from - slack && s <= far.to + slack)) return;
  const t = (my * far.directionZ - mz * far.directionY) / cross;
  if (!(t >= near.from - slack && t <= near.to + slack)) return;
  const y = far.middleY + s * far.directionY;
  const z = far.middleZ + s * far.directionZ;
  const outer = Math.sqrt((section.y[far.i]! - y) ** 2 + (section.z[far.i]! - z) ** 2);
  const inner = Math.sqrt((section.y[near.i]! - y) ** 2 + (section.z[near.i]! - z) ** 2);
  if (outer - inner < bound) tryCentre(y, z);
}

/** Width of the narrowest strip between parallel lines that holds all points: what a ring of endless radius would give. */
function narrowestStrip({ n, y, z, scale }: SectionPoints): number {
  let narrowest = Infinity;
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      const length = Math.hypot(y[j]! - y[i]!, z[j]! - z[i]!);
      const ny = -(z[j]! - z[i]!) / length;
      const nz = (y[j]! - y[i]!) / length;
      let [low, high] = [0, 0];
      for (let k = 0; k < n; k++) {
        const d = ny * (y[k]! - y[i]!) + nz * (z[k]! - z[i]!);
        if (d < low) low = d;
        if (d > high) high = d;
        // A line through two points with points on both sides is no edge of the hull.
        if (low < -1e-13 * scale && high > 1e-13 * scale) break;
      }
      if (low >= -1e-13 * scale || high <= 1e-13 * scale) narrowest = Math.min(narrowest, high - low);
    }
  return narrowest;
}
