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
 * q_k = direction . (p_k - p_i) and g_k = (p_k - p_i) . (p_k - p_j); the reverse for the farthest. No case distinction for
 * near-cocircular points, which is what a round seat is. Points that ruled an edge out are asked first for the next one: what
 * remains is a few tests a pair and n tests for each of the O(n) edges; O(n^3) only where the points are cocircular to EDGE_SLACK. For few points.
 */
export function equidistantEdges({ n, y, z, scale }: SectionPoints): EquidistantEdges {
  const slack = EDGE_SLACK * scale;
  const nearest: EquidistantEdge[] = [];
  const farthest: EquidistantEdge[] = [];
  const order = Int32Array.from({ length: n }, (_, k) => k);
  for (let i = 0; i < n; i++) {
    const yi = y[i]!;
    const zi = z[i]!;
    for (let j = i + 1; j < n; j++) {
      const yj = y[j]!;
      const zj = z[j]!;
      const length = Math.sqrt((yj - yi) * (yj - yi) + (zj - zi) * (zj - zi));
      const tolerance = slack / length;
      // Twice the direction times the length: s then counts in lengths of i to j.
      const dirY = 2 * (zi - zj);
      const dirZ = 2 * (yj - yi);
      let nearFrom = -Infinity;
      let nearTo = Infinity;
      let farFrom = -Infinity;
      let farTo = Infinity;
      for (let place = 0; place < n; place++) {
        const k = order[place]!;
        if (k === i || k === j) continue;
        const yk = y[k]!;
        const zk = z[k]!;
        const dy = yk - yi;
        const dz = zk - zi;
        const g = dy * (yk - yj) + dz * (zk - zj);
        const q = dirY * dy + dirZ * dz;
        const s = g / q;
        if (q > 0) {
          if (s < nearTo) nearTo = s;
          if (s > farFrom) farFrom = s;
        } else if (q < 0) {
          if (s > nearFrom) nearFrom = s;
          if (s < farTo) farTo = s;
        } else if (g < 0) nearTo = -Infinity;
        else if (g > 0) farTo = -Infinity;
        if (nearFrom > nearTo + tolerance && farFrom > farTo + tolerance) {
          const ahead = place >> 1;
          order[place] = order[ahead]!;
          order[ahead] = k;
          break;
        }
      }
      const isNear = nearTo > -Infinity && nearFrom <= nearTo + tolerance;
      const isFar = farTo > -Infinity && farFrom <= farTo + tolerance;
      if (!isNear && !isFar) continue;
      const line = {
        i,
        j,
        middleY: (yi + yj) / 2,
        middleZ: (zi + zj) / 2,
        directionY: (zi - zj) / length,
        directionZ: (yj - yi) / length,
      };
      if (isNear) nearest.push(bounded(line, nearFrom * length, nearTo * length));
      if (isFar) farthest.push(bounded(line, farFrom * length, farTo * length));
    }
  }
  return { nearest, farthest };
}

function bounded(line: Omit<EquidistantEdge, "from" | "to">, from: number, to: number): EquidistantEdge {
  const { i, j, middleY, middleZ, directionY, directionZ } = line;
  return { i, j, middleY, middleZ, directionY, directionZ, from, to };
}
