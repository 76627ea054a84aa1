import { searchBestFirst } from "./best-first";
import { EDGE_SLACK, nearestEdges } from "./equidistant-edges";
import { distancesFrom, largestGap, subsection, surroundedBy } from "./section-distances";
import type { SectionPoints } from "./section-points";

/** A square of centres, and the points that can be the nearest of one of them. */
type Cell = {
  /** Less than minus the radius of every free circle about a centre inside. */
  readonly bound: number;
  readonly y: number;
  readonly z: number;
  readonly half: number;
  readonly least: number;
  readonly near: readonly number[];
};

/** So few points are tried exhaustively. */
const FEW = 24;
/** A square of so small a part of the scale is its centre. */
const SMALLEST = 2e-14;

function cellAt(section: SectionPoints, y: number, z: number, half: number, among: readonly number[]): Cell {
  const squares = among.map((i) => (section.y[i]! - y) ** 2 + (section.z[i]! - z) ** 2);
  let square = Infinity;
  for (const one of squares) if (one < square) square = one;
  const least = Math.sqrt(square);
  const reach = half * Math.SQRT2;
  const limit = (least + 2 * reach + 10 * EDGE_SLACK * section.scale) ** 2;
  return { bound: -(least + reach), y, z, half, least, near: among.filter((_, place) => squares[place]! <= limit) };
}

/** Whether every centre inside has all its nearest points to one side: none of them is held. */
function isOpen(section: SectionPoints, { y, z, half, least, near }: Cell): boolean {
  const reach = half * Math.SQRT2;
  if (least <= reach) return false;
  const angles = new Float64Array(near.length);
  near.forEach((i, place) => {
    angles[place] = Math.atan2(section.z[i]! - z, section.y[i]! - y);
  });
  return largestGap(angles) >= Math.PI + 2 * Math.asin(reach / least);
}

/**
 * Centre (about the origin of the section) and radius of the largest circle free of points that is held from all sides; radius 0
 * where there is none.
 *
 * Method: branch and bound over squares of centres. Within a square the distance to the nearest point changes by its half diagonal
 * at most, which bounds the radius and leaves the few points that can be nearest there; on few points every vertex of their
 * nearest-point diagram is tried. Squares are left only where their bound is no better than the best circle, or nothing holds.
 */
export function largestHeldCircle(section: SectionPoints): { y: number; z: number; radius: number } {
  const slack = 10 * EDGE_SLACK * section.scale;
  let best = { y: 0, z: 0, radius: 0 };
  const take = (y: number, z: number) => {
    const [radius] = distancesFrom(section, y, z);
    if (radius > best.radius && surroundedBy(section, { y, z }, radius + slack)) best = { y, z, radius };
  };
  const tryVertices = (cell: Cell) => {
    const few = subsection(section, cell.near);
    const within = cell.half + slack;
    for (const edge of nearestEdges(few, { y: cell.y, z: cell.z, reach: within * Math.SQRT2 }))
      for (const s of [edge.from, edge.to]) {
        if (!Number.isFinite(s)) continue;
        const [y, z] = [edge.middleY + s * edge.directionY, edge.middleZ + s * edge.directionZ];
        if (Math.abs(y - cell.y) > within || Math.abs(z - cell.z) > within) continue;
        const radius = Math.hypot(few.y[edge.i]! - y, few.z[edge.i]! - z);
        if (radius > best.radius && surroundedBy(few, { y, z }, radius + slack)) take(y, z);
      }
  };
  const all = Array.from({ length: section.n }, (_, i) => i);
  searchBestFirst(
    [cellAt(section, 0, 0, section.scale, all)],
    ({ bound }) => -bound > best.radius,
    (cell) => {
      if (cell.near.length <= FEW) {
        tryVertices(cell);
        return [];
      }
      if (isOpen(section, cell)) return [];
      if (cell.half <= SMALLEST * section.scale) {
        take(cell.y, cell.z);
        return [];
      }
      const half = cell.half / 2;
      return [-half, half].flatMap((dy) =>
        [-half, half].map((dz) => cellAt(section, cell.y + dy, cell.z + dz, half, cell.near)),
      );
    },
  );
  return best;
}
