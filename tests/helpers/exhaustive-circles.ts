import type { Estimate } from "@/lib/core/errors";
import { EDGE_SLACK, type EquidistantEdge, farthestEdges, nearestEdges } from "@/lib/core/metrology/equidistant-edges";
import { fitLeastSquares, type LeastSquaresCircle } from "@/lib/core/metrology/least-squares-circle";
import type { PlanePoint } from "@/lib/core/metrology/plane-point";
import type { Circle, MinimumZone, ReferenceCircles } from "@/lib/core/metrology/reference-circles";
import { type SectionPoints, toSectionPoints } from "@/lib/core/metrology/section-points";

type EquidistantEdges = Readonly<Record<"nearest" | "farthest", readonly EquidistantEdge[]>>;

const EVERYWHERE = { y: 0, z: 0, reach: Infinity };

/** Below this part of the radius the zone is rounding: all four circles are one. */
const PERFECTLY_ROUND = 1e-12;

/**
 * The four reference circles by trying every edge, vertex and crossing of the nearest-point and farthest-point diagrams of all
 * points: at least quadratic in their number, and free of the search that `referenceCircles` narrows them by.
 */
export function exhaustiveCircles(points: readonly PlanePoint[]): ReferenceCircles {
  const section = toSectionPoints(points, "exhaustiveCircles");
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
  const edges = { nearest: nearestEdges(section, EVERYWHERE), farthest: farthestEdges(section, EVERYWHERE) };
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

function findMinimumCircumscribed(section: SectionPoints, edges: EquidistantEdges): Circle {
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

function findMaximumInscribed(section: SectionPoints, edges: EquidistantEdges): Estimate<Circle> {
  const vertices: { radius: number; y: number; z: number }[] = [];
  for (const edge of edges.nearest)
    for (const s of [edge.from, edge.to]) {
      if (!Number.isFinite(s)) continue;
      const [y, z] = [edge.middleY + s * edge.directionY, edge.middleZ + s * edge.directionZ];
      vertices.push({ radius: Math.sqrt((section.y[edge.i]! - y) ** 2 + (section.z[edge.i]! - z) ** 2), y, z });
    }
  vertices.sort((a, b) => b.radius - a.radius);
  let best = { radius: 0, y: 0, z: 0 };
  for (const { radius, y, z } of vertices) {
    // Slack lets in vertices that other points overrun: their own radius is only a bound.
    if (radius <= best.radius) break;
    const least = distances(section, y, z)[0];
    if (least > best.radius && surroundedBy(section, { y, z }, least + 10 * EDGE_SLACK * section.scale))
      best = { radius: least, y, z };
  }
  if (best.radius === 0) return NO_INSCRIBED;
  return answer({ centre: absolute(section, best.y, best.z), radius: best.radius });
}

/** Largest angle between neighbouring directions, rad. Sorts in place. */
function largestGap(angles: number[] | Float64Array): number {
  if (angles instanceof Float64Array) angles.sort();
  else angles.sort((a, b) => a - b);
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

function findMinimumZone(
  section: SectionPoints,
  edges: EquidistantEdges,
  leastSquares: LeastSquaresCircle,
): Estimate<MinimumZone> {
  const start = relativeTo(section, leastSquares.centre);
  const [startInner, startOuter] = distances(section, start.y, start.z);
  let best = { zone: startOuter - startInner, inner: startInner, outer: startOuter, ...start };
  const tryCentre = (y: number, z: number, radius: number, side: 1 | -1) => {
    if (!canBeat(section, y, z, radius, side, best.zone)) return;
    const [inner, outer] = distances(section, y, z);
    if (outer - inner < best.zone) best = { zone: outer - inner, inner, outer, y, z };
  };
  const reach = reachOfBetterCentres(section, best);
  const far = clipEdges(section, edges.farthest, start, reach);
  const near = clipEdges(section, edges.nearest, start, reach);
  for (const { edge, from, to } of far) {
    if (Number.isFinite(from)) tryEnd(section, edge, from, 1, tryCentre);
    if (Number.isFinite(to)) tryEnd(section, edge, to, 1, tryCentre);
  }
  for (const { edge, from, to } of near) {
    if (Number.isFinite(from)) tryEnd(section, edge, from, -1, tryCentre);
    if (Number.isFinite(to)) tryEnd(section, edge, to, -1, tryCentre);
  }
  for (const a of far)
    for (const b of near) if (a.least - b.most < best.zone) tryCrossing(section, a.edge, b.edge, best.zone, tryCentre);
  const { zone, inner, outer, y, z } = best;
  // A ring of points around a centre is wider than its zone in every direction: no need to look for a strip.
  const gap = gapFrom(section, best);
  const surelyWider = gap < Math.PI && 2 * inner * Math.cos(gap / 2) > zone;
  if (!surelyWider && narrowestStrip(section) <= zone) return NO_ZONE;
  return answer({ centre: absolute(section, y, z), outerRadius: outer, innerRadius: inner, zone });
}

type TryCentre = (y: number, z: number, radius: number, side: 1 | -1) => void;

/** Tries the end of an edge: side 1 of a farthest edge, whose radius is the outer one, -1 of a nearest edge. */
function tryEnd(section: SectionPoints, edge: EquidistantEdge, s: number, side: 1 | -1, tryCentre: TryCentre): void {
  const y = edge.middleY + s * edge.directionY;
  const z = edge.middleZ + s * edge.directionZ;
  const dy = section.y[edge.i]! - y;
  const dz = section.z[edge.i]! - z;
  tryCentre(y, z, Math.sqrt(dy * dy + dz * dz), side);
}

/** Whether no point is so near (or so far) that the zone about a centre of known outer (or inner) radius reaches `zone`. */
function canBeat(
  { n, y, z }: SectionPoints,
  cy: number,
  cz: number,
  radius: number,
  side: 1 | -1,
  zone: number,
): boolean {
  const limit = radius - side * zone;
  if (limit <= 0) return true;
  const square = limit * limit;
  for (let i = 0; i < n; i++) {
    const dy = y[i]! - cy;
    const dz = z[i]! - cz;
    const d = dy * dy + dz * dz;
    if (side > 0 ? d < square : d > square) return false;
  }
  return true;
}

function gapFrom({ n, y, z }: SectionPoints, centre: PlanePoint): number {
  const angles = new Float64Array(n);
  for (let i = 0; i < n; i++) angles[i] = Math.atan2(z[i]! - centre.z, y[i]! - centre.y);
  return largestGap(angles);
}

/**
 * How far from a centre another one with a smaller zone can lie. A shift by t brings a point ahead nearer by t cos(gap / 2),
 * less t^2 / (2 r), and one behind farther by t cos(gap / 2) at least, so that t cos(gap / 2) stays below the zone.
 */
function reachOfBetterCentres(section: SectionPoints, from: { zone: number; inner: number } & PlanePoint): number {
  const gap = gapFrom(section, from);
  const round = from.zone < 0.05 * from.inner && gap < (2 * Math.PI) / 3;
  return round ? (1.2 * from.zone) / Math.cos(gap / 2) : Infinity;
}

/** An edge within reach, with the least and the largest distance of its points i and j from it. */
type ClippedEdge = {
  readonly edge: EquidistantEdge;
  readonly from: number;
  readonly to: number;
  readonly least: number;
  readonly most: number;
};

function clipEdges(
  section: SectionPoints,
  edges: readonly EquidistantEdge[],
  centre: PlanePoint,
  reach: number,
): ClippedEdge[] {
  const clipped: ClippedEdge[] = [];
  for (const edge of edges) {
    const dy = centre.y - edge.middleY;
    const dz = centre.z - edge.middleZ;
    const along = dy * edge.directionY + dz * edge.directionZ;
    const across = dy * edge.directionZ - dz * edge.directionY;
    if (Math.abs(across) > reach) continue;
    const half = reach === Infinity ? Infinity : Math.sqrt(reach * reach - across * across);
    const from = Math.max(edge.from, along - half);
    const to = Math.min(edge.to, along + half);
    const slack = EDGE_SLACK * section.scale;
    if (from > to + slack) continue;
    const hy = section.y[edge.i]! - edge.middleY;
    const hz = section.z[edge.i]! - edge.middleZ;
    const square = hy * hy + hz * hz;
    const closest = from > 0 ? from : to < 0 ? to : 0;
    const furthest = Math.max(Math.abs(from - slack), Math.abs(to + slack));
    clipped.push({
      edge,
      from,
      to,
      least: Math.sqrt(square + closest * closest) - slack,
      most: Math.sqrt(square + furthest * furthest),
    });
  }
  return clipped;
}

/** Tries the crossing of a farthest with a nearest edge, if it lies on both and its zone can be smaller than `bound`. */
function tryCrossing(
  section: SectionPoints,
  far: EquidistantEdge,
  near: EquidistantEdge,
  bound: number,
  tryCentre: TryCentre,
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
  const oy = section.y[far.i]! - y;
  const oz = section.z[far.i]! - z;
  const iy = section.y[near.i]! - y;
  const iz = section.z[near.i]! - z;
  const outer = Math.sqrt(oy * oy + oz * oz);
  const inner = Math.sqrt(iy * iy + iz * iz);
  if (outer - inner < bound) tryCentre(y, z, outer, 1);
}

/** Points on the edge of the convex hull, in one turn round it (Andrew 1979, Information Processing Letters 9 216-219). */
function hullOf({ n, y, z }: SectionPoints): number[] {
  const order = Array.from({ length: n }, (_, i) => i).sort((a, b) => y[a]! - y[b]! || z[a]! - z[b]!);
  const half = (points: readonly number[]): number[] => {
    const chain: number[] = [];
    for (const k of points) {
      for (let top = chain.length - 1; top > 0; top--) {
        const [i, j] = [chain[top - 1]!, chain[top]!];
        if ((y[j]! - y[i]!) * (z[k]! - z[i]!) - (z[j]! - z[i]!) * (y[k]! - y[i]!) > 0) break;
        chain.pop();
      }
      chain.push(k);
    }
    return chain.slice(0, -1);
  };
  return [...half(order), ...half(order.reverse())];
}

/**
 * Width of the narrowest strip between parallel lines that holds all points: what a ring of endless radius would give. One of
 * its lines holds an edge of the hull, and the point farthest from that edge goes round with it.
 */
function narrowestStrip(section: SectionPoints): number {
  const { y, z } = section;
  const hull = hullOf(section);
  let narrowest = Infinity;
  let opposite = 1;
  hull.forEach((i, place) => {
    const j = hull[(place + 1) % hull.length]!;
    const length = Math.hypot(y[j]! - y[i]!, z[j]! - z[i]!);
    const ny = -(z[j]! - z[i]!) / length;
    const nz = (y[j]! - y[i]!) / length;
    const distanceOf = (at: number) => {
      const k = hull[at % hull.length]!;
      return ny * (y[k]! - y[i]!) + nz * (z[k]! - z[i]!);
    };
    opposite = Math.max(opposite, place + 1);
    while (opposite < place + hull.length && distanceOf(opposite + 1) >= distanceOf(opposite)) opposite++;
    narrowest = Math.min(narrowest, distanceOf(opposite));
  });
  return narrowest;
}
