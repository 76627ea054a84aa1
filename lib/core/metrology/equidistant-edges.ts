import type { SectionPoints } from "./section-points";

/**
 * Part of the perpendicular bisector of points i and j from where these two are the nearest (or the farthest) of all points:
 * c(s) = middle + s * direction for `from` <= s <= `to`. Direction has length 1; the bounds may be infinite.
 */
export type EquidistantEdge = {
  readonly i: number;
  readonly j: number;
  readonly middleY: number;
  readonly middleZ: number;
  readonly directionY: number;
  readonly directionZ: number;
  readonly from: number;
  readonly to: number;
};

/** Edges of the nearest-point and of the farthest-point diagram of a section. */
export type EquidistantEdges = {
  readonly nearest: readonly EquidistantEdge[];
  readonly farthest: readonly EquidistantEdge[];
};

/** Slack with which an edge that has shrunk to a point is kept, as a part of the scale: circles through four points and more. */
export const EDGE_SLACK = 1e-10;

/**
 * Edges of the nearest-point and farthest-point Voronoi diagrams.
 *
 * Method: on the bisector of each pair, every other point k bounds s linearly, 2 s q_k <= g_k with
 * q_k = direction . (p_k - p_i) and g_k = (p_k - p_i) . (p_k - p_j); the reverse for the farthest. O(n^3) at worst, and no
 * case distinction for near-cocircular points, which is what a round seat is.
 */
export function equidistantEdges(section: SectionPoints): EquidistantEdges {
  const { n, y, z } = section;
  const slack = EDGE_SLACK * section.scale;
  const nearest: EquidistantEdge[] = [];
  const farthest: EquidistantEdge[] = [];
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      const dy = y[j]! - y[i]!;
      const dz = z[j]! - z[i]!;
      const length = Math.sqrt(dy * dy + dz * dz);
      addEdges(section, { i, j, directionY: -dz / length, directionZ: dy / length, slack }, nearest, farthest);
    }
  return { nearest, farthest };
}

function addEdges(
  { n, y, z }: SectionPoints,
  pair: { i: number; j: number; directionY: number; directionZ: number; slack: number },
  nearest: EquidistantEdge[],
  farthest: EquidistantEdge[],
): void {
  const { i, j, directionY, directionZ, slack } = pair;
  const yi = y[i]!;
  const zi = z[i]!;
  const yj = y[j]!;
  const zj = z[j]!;
  let nearFrom = -Infinity;
  let nearTo = Infinity;
  let farFrom = -Infinity;
  let farTo = Infinity;
  for (let k = 0; k < n; k++) {
    if (k === i || k === j) continue;
    const yk = y[k]!;
    const zk = z[k]!;
    const dy = yk - yi;
    const dz = zk - zi;
    const g = dy * (yk - yj) + dz * (zk - zj);
    const q = directionY * dy + directionZ * dz;
    const s = g / (2 * q);
    if (q > 0) {
      if (s < nearTo) nearTo = s;
      if (s > farFrom) farFrom = s;
    } else if (q < 0) {
      if (s > nearFrom) nearFrom = s;
      if (s < farTo) farTo = s;
    } else if (g < 0) nearTo = -Infinity;
    else if (g > 0) farTo = -Infinity;
    if (nearFrom > nearTo + slack && farFrom > farTo + slack) return;
  }
  const middleY = (yi + yj) / 2;
  const middleZ = (zi + zj) / 2;
  if (nearFrom <= nearTo + slack)
    nearest.push({ i, j, middleY, middleZ, directionY, directionZ, from: nearFrom, to: nearTo });
  if (farFrom <= farTo + slack)
    farthest.push({ i, j, middleY, middleZ, directionY, directionZ, from: farFrom, to: farTo });
}
