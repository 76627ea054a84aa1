import { searchBestFirst } from "./best-first";
import { type CentreDisc, EDGE_SLACK, type EquidistantEdge, farthestEdges, nearestEdges } from "./equidistant-edges";
import { distancesFrom, gapFrom, subsection } from "./section-distances";
import type { SectionPoints } from "./section-points";

/** Concentric circles about a centre, which counts from the origin of the section. */
export type ZoneTrial = {
  readonly zone: number;
  readonly inner: number;
  readonly outer: number;
  readonly y: number;
  readonly z: number;
};

/**
 * Centres in one piece: a square about (a, b) of half a side `halfA`; or, far away, directions `a` +- `halfA` and scale divided by
 * the distance, `b` +- `halfB`, 0 for endless.
 */
type Region = {
  readonly isFar: boolean;
  readonly a: number;
  readonly b: number;
  readonly halfA: number;
  readonly halfB: number;
};

/** A piece with the points that can be the farthest and the nearest of a centre inside. */
type Cell = Region & {
  /** No centre inside has a smaller zone. */
  readonly bound: number;
  readonly reach: number;
  readonly outer: readonly number[];
  readonly inner: readonly number[];
};

/** So few points are tried exhaustively. */
const FEW = 48;
/** A piece in which distances change by less than this part of the scale is one point. */
const SMALLEST = 2e-14;
/** Rounding of a distance, as a part of the scale. */
const ROUNDING = 1e-12;
/** Centres farther away than so many scales are searched by direction. */
const FAR = 4;

/** By how much the distance of a point, less that of the origin, changes at most from the middle of a region. */
function reachOf({ isFar, halfA, halfB }: Region, scale: number): number {
  // From 4 scales on: scale D / (D - scale) a radian, and scale (D / (D - scale))^2 / 1.9 a unit of scale / D.
  return isFar ? scale * ((4 / 3) * halfA + 0.94 * halfB) : halfA * Math.SQRT2;
}

/** Distances of points from the middle of a region; far away, less the distance of the origin. */
function distancesAt({ y, z, scale }: SectionPoints, { isFar, a, b }: Region, among: readonly number[]): Float64Array {
  const values = new Float64Array(among.length);
  const [ey, ez, s] = [Math.cos(a), Math.sin(a), b / scale];
  for (let place = 0; place < among.length; place++) {
    const [py, pz] = [y[among[place]!]!, z[among[place]!]!];
    if (isFar) {
      const excess = s * (py * py + pz * pz) - 2 * (ey * py + ez * pz);
      values[place] = excess / (Math.sqrt(1 + s * excess) + 1);
    } else values[place] = Math.sqrt((py - a) * (py - a) + (pz - b) * (pz - b));
  }
  return values;
}

function middleOf({ isFar, a, b }: Region, scale: number): [number, number] {
  return isFar ? [(Math.cos(a) * scale) / b, (Math.sin(a) * scale) / b] : [a, b];
}

function cellOf(
  section: SectionPoints,
  region: Region,
  outer: readonly number[],
  inner: readonly number[],
): Cell & { readonly zone: number } {
  const reach = reachOf(region, section.scale);
  const margin = 2 * reach + ROUNDING * section.scale;
  const [far, near] = [distancesAt(section, region, outer), distancesAt(section, region, inner)];
  let [most, least] = [-Infinity, Infinity];
  for (const value of far) if (value > most) most = value;
  for (const value of near) if (value < least) least = value;
  return {
    ...region,
    zone: most - least,
    bound: most - least - 2 * reach,
    reach,
    outer: outer.filter((_, place) => far[place]! >= most - margin),
    inner: inner.filter((_, place) => near[place]! <= least + margin),
  };
}

function quartersOf({ isFar, a, b, halfA, halfB }: Region): Region[] {
  const [da, db] = [halfA / 2, halfB / 2];
  return [a - da, a + da].flatMap((atA) =>
    [b - db, b + db].map((atB) => ({ isFar, a: atA, b: atB, halfA: da, halfB: db })),
  );
}

/** So few points are compared pair by pair, which is quicker than by their places in a grid. */
const FEW_PAIRS = 64;

/** One point of each lot that lies closer together than rounding. */
function apart(section: SectionPoints): number[] {
  const { n, y, z, scale } = section;
  const grid = ROUNDING * scale;
  const all = Array.from({ length: n }, (_, i) => i);
  if (n <= FEW_PAIRS && !hasPairWithin(section, 2 * grid)) return all;
  const seen = new Set<string>();
  return all.filter((i) => {
    const place = `${Math.round(y[i]! / grid)} ${Math.round(z[i]! / grid)}`;
    if (seen.has(place)) return false;
    seen.add(place);
    return true;
  });
}

function hasPairWithin({ n, y, z }: SectionPoints, reach: number): boolean {
  for (let i = 1; i < n; i++)
    for (let j = 0; j < i; j++) if (Math.abs(y[i]! - y[j]!) < reach && Math.abs(z[i]! - z[j]!) < reach) return true;
  return false;
}

/**
 * How far from a centre another one with a smaller zone can lie. A shift by t brings a point ahead nearer by t cos(gap / 2),
 * less t^2 / (2 r), and one behind farther by t cos(gap / 2) at least, so that t cos(gap / 2) stays below the zone.
 */
function reachOfBetterCentres(section: SectionPoints, from: ZoneTrial): number {
  const gap = gapFrom(section, from);
  const round = from.zone < 0.05 * from.inner && gap < (2 * Math.PI) / 3;
  return round ? (1.2 * from.zone) / Math.cos(gap / 2) : Infinity;
}

function rootsAbout(section: SectionPoints, start: ZoneTrial): Region[] {
  const reach = reachOfBetterCentres(section, start);
  if (reach < Infinity) return [{ isFar: false, a: start.y, b: start.z, halfA: reach, halfB: reach }];
  const half = FAR * section.scale;
  const directions = Array.from({ length: 8 }, (_, k) => ((k + 0.5) * Math.PI) / 4);
  return [
    { isFar: false, a: 0, b: 0, halfA: half, halfB: half },
    ...directions.map((a) => ({ isFar: true, a, b: 0.5 / FAR, halfA: Math.PI / 8, halfB: 0.5 / FAR })),
  ];
}

/**
 * Smallest zone between concentric circles that hold all points, if it is smaller than that of a start and than `limit`.
 *
 * Method: branch and bound over pieces of the plane, which distance folds in where centres may be endlessly far. Within a piece
 * no distance changes by more than its reach, which bounds the zone and leaves the few points that can be the farthest or the
 * nearest there; on few points every vertex of either diagram and every crossing of both is tried. Every centre is covered by a
 * piece, and a piece is left only where its bound is no better than the best zone: what remains is the global optimum.
 */
export function smallestZone(
  section: SectionPoints,
  hull: readonly number[],
  start: ZoneTrial,
  limit: number,
): ZoneTrial {
  const { scale } = section;
  let best = start;
  const bound = () => Math.min(best.zone, limit) - Number.EPSILON * scale;
  const take = (y: number, z: number) => {
    const [inner, outer] = distancesFrom(section, y, z);
    if (outer - inner < best.zone) best = { zone: outer - inner, inner, outer, y, z };
  };
  const cellWithin = (region: Region, outer: readonly number[], inner: readonly number[]): Cell => {
    const cell = cellOf(section, region, outer, inner);
    if (cell.zone < best.zone && !(region.isFar && region.b === 0)) take(...middleOf(region, scale));
    return cell;
  };
  const kept = apart(section);
  const roots = rootsAbout(section, start).map((region) => cellWithin(region, hull, kept));
  searchBestFirst(
    roots,
    (cell) => cell.bound < bound(),
    (cell) => {
      if (cell.outer.length + cell.inner.length <= FEW) {
        tryFew(section, cell, bound, take);
        return [];
      }
      if (cell.reach <= SMALLEST * scale) return [];
      return quartersOf(cell).map((region) => cellWithin(region, cell.outer, cell.inner));
    },
  );
  return best;
}

/** Whether circles about a centre that hold the outer and the inner points of a cell lie closer together than `bound`. */
function isWithin(outer: SectionPoints, inner: SectionPoints, cy: number, cz: number, bound: number): boolean {
  const most = distancesFrom(outer, cy, cz)[1];
  const { n, y, z } = inner;
  let least = Infinity;
  for (let i = 0; i < n; i++) {
    const dy = y[i]! - cy;
    const dz = z[i]! - cz;
    const square = dy * dy + dz * dz;
    if (square >= least) continue;
    least = square;
    if (!(most - Math.sqrt(least) < bound)) return false;
  }
  return true;
}

/** Tries every vertex and crossing of the diagrams of a cell's points that lies in the cell. */
function tryFew(section: SectionPoints, cell: Cell, bound: () => number, take: (y: number, z: number) => void): void {
  const [outer, inner] = [subsection(section, cell.outer), subsection(section, cell.inner)];
  let limit = bound();
  const tryCentre = (y: number, z: number) => {
    if (!isWithin(outer, inner, y, z, limit)) return;
    take(y, z);
    limit = bound();
  };
  const reach = cell.isFar ? Infinity : cell.reach + EDGE_SLACK * section.scale;
  const disc = { y: cell.a, z: cell.b, reach };
  const far = clipEdges(outer, farthestEdges(outer, disc), disc);
  const near = clipEdges(inner, nearestEdges(inner, disc), disc);
  for (const edges of [far, near])
    for (const { edge, from, to } of edges) {
      if (Number.isFinite(from))
        tryCentre(edge.middleY + from * edge.directionY, edge.middleZ + from * edge.directionZ);
      if (Number.isFinite(to)) tryCentre(edge.middleY + to * edge.directionY, edge.middleZ + to * edge.directionZ);
    }
  for (const a of far) for (const b of near) if (a.least - b.most < limit) tryCrossing(section, a, b, tryCentre);
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
  { y: cy, z: cz, reach }: CentreDisc,
): ClippedEdge[] {
  const clipped: ClippedEdge[] = [];
  for (const edge of edges) {
    let [from, to] = [edge.from, edge.to];
    if (reach < Infinity) {
      const dy = cy - edge.middleY;
      const dz = cz - edge.middleZ;
      const along = dy * edge.directionY + dz * edge.directionZ;
      const across = dy * edge.directionZ - dz * edge.directionY;
      if (Math.abs(across) > reach) continue;
      const half = Math.sqrt(reach * reach - across * across);
      from = Math.max(from, along - half);
      to = Math.min(to, along + half);
    }
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

/** Tries the crossing of a farthest with a nearest edge, if it lies on both. */
function tryCrossing(
  section: SectionPoints,
  { edge: far }: ClippedEdge,
  { edge: near }: ClippedEdge,
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
  tryCentre(far.middleY + s * far.directionY, far.middleZ + s * far.directionZ);
}
