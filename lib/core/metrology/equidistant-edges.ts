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

/** Centres of which some can be asked for alone; `reach` may be infinite. */
export type CentreDisc = { readonly y: number; readonly z: number; readonly reach: number };

/** Slack with which an edge that has shrunk to a point is kept, as a part of the scale: circles through four points and more. */
export const EDGE_SLACK = 1e-10;

/** Edges of the nearest-point Voronoi diagram that reach into a disc; see `edgesOf`. */
export const nearestEdges = (section: SectionPoints, within: CentreDisc): EquidistantEdge[] =>
  edgesOf(section, 1, within);

/** Edges of the farthest-point Voronoi diagram that reach into a disc; see `edgesOf`. */
export const farthestEdges = (section: SectionPoints, within: CentreDisc): EquidistantEdge[] =>
  edgesOf(section, -1, within);

/**
 * Edges of the nearest-point (`side` 1) or farthest-point (-1) Voronoi diagram of few points, by i and j; those that miss the disc
 * by more than slack are left out, others may be there.
 *
 * Method: on the bisector of each pair, every other point k bounds s linearly, 2 s q_k <= g_k with
 * q_k = direction . (p_k - p_i) and g_k = (p_k - p_i) . (p_k - p_j); the reverse for the farthest. No case distinction for
 * near-cocircular points, which is what a round seat is. Points that ruled an edge out are asked first for the next one: what
 * remains is a few tests a pair and n tests for each of the O(n) edges; O(n^3) only where the points are cocircular to EDGE_SLACK.
 */
function edgesOf({ n, y, z, scale }: SectionPoints, side: 1 | -1, within: CentreDisc): EquidistantEdge[] {
  const slack = EDGE_SLACK * scale;
  const reach = within.reach + 2 * slack;
  const edges: EquidistantEdge[] = [];
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
      const toY = within.y - (yi + yj) / 2;
      const toZ = within.z - (zi + zj) / 2;
      const across = (toY * dirZ - toZ * dirY) / (2 * length);
      if (across > reach || across < -reach) continue;
      const half = Math.sqrt(reach * reach - across * across) / length;
      const along = (toY * dirY + toZ * dirZ) / (2 * length * length);
      let from = -Infinity;
      let to = Infinity;
      // What of the edge lies in the disc.
      let first = along - half;
      let last = along + half;
      let isEdge = true;
      for (let place = 0; place < n; place++) {
        const k = order[place]!;
        if (k === i || k === j) continue;
        const yk = y[k]!;
        const zk = z[k]!;
        const dy = yk - yi;
        const dz = zk - zi;
        const g = side * (dy * (yk - yj) + dz * (zk - zj));
        const q = side * (dirY * dy + dirZ * dz);
        if (q > 0) {
          const s = g / q;
          if (s < to) to = s;
          if (s < last) last = s;
        } else if (q < 0) {
          const s = g / q;
          if (s > from) from = s;
          if (s > first) first = s;
        } else if (g < 0) isEdge = false;
        if (!isEdge || from > to + tolerance || first > last + 2 * tolerance) {
          isEdge = false;
          const ahead = place >> 1;
          order[place] = order[ahead]!;
          order[ahead] = k;
          break;
        }
      }
      if (!isEdge) continue;
      edges.push({
        i,
        j,
        middleY: (yi + yj) / 2,
        middleZ: (zi + zj) / 2,
        directionY: (zi - zj) / length,
        directionZ: (yj - yi) / length,
        from: from * length,
        to: to * length,
      });
    }
  }
  return edges;
}
