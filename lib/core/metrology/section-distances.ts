import type { PlanePoint } from "./plane-point";
import type { SectionPoints } from "./section-points";

/** Smallest and largest distance of the points from a centre, both about the origin of the section. */
export function distancesFrom({ n, y, z }: SectionPoints, cy: number, cz: number): [number, number] {
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

/** Largest angle between neighbouring directions, rad. Sorts in place. */
export function largestGap(angles: number[] | Float64Array): number {
  if (angles instanceof Float64Array) angles.sort();
  else angles.sort((a, b) => a - b);
  let gap = angles[0]! + 2 * Math.PI - angles[angles.length - 1]!;
  for (let i = 1; i < angles.length; i++) gap = Math.max(gap, angles[i]! - angles[i - 1]!);
  return gap;
}

/** Largest angle between neighbouring points seen from a centre, rad. */
export function gapFrom({ n, y, z }: SectionPoints, centre: PlanePoint): number {
  const angles = new Float64Array(n);
  for (let i = 0; i < n; i++) angles[i] = Math.atan2(z[i]! - centre.z, y[i]! - centre.y);
  return largestGap(angles);
}

/** Whether the points within `reach` of a centre pull it from all sides: no gap of half a turn. */
export function surroundedBy(
  { n, y, z }: Pick<SectionPoints, "n" | "y" | "z">,
  centre: PlanePoint,
  reach: number,
): boolean {
  const angles: number[] = [];
  for (let i = 0; i < n; i++) {
    const dy = y[i]! - centre.y;
    const dz = z[i]! - centre.z;
    if (Math.sqrt(dy * dy + dz * dz) <= reach) angles.push(Math.atan2(dz, dy));
  }
  return angles.length >= 3 && largestGap(angles) < Math.PI - 1e-9;
}

/** Some points of a section, as a section about the same origin. */
export function subsection({ origin, y, z, scale }: SectionPoints, chosen: ArrayLike<number>): SectionPoints {
  const n = chosen.length;
  const [ownY, ownZ] = [new Float64Array(n), new Float64Array(n)];
  for (let k = 0; k < n; k++) {
    ownY[k] = y[chosen[k]!]!;
    ownZ[k] = z[chosen[k]!]!;
  }
  return { n, origin, y: ownY, z: ownZ, scale };
}
