import { distancesFrom, subsection } from "./section-distances";
import type { SectionPoints } from "./section-points";

/** Centre about the origin of the section. */
type Trial = { readonly y: number; readonly z: number; readonly radius: number; readonly held: readonly number[] };

/** A point outside by less than this part of the scale is on the circle. */
const ON_CIRCLE = 1e-14;

/** The smallest circle about a few points: about two of them, or through three. */
function aboutFew({ y, z, scale }: SectionPoints, few: readonly number[]): Trial | null {
  let best: Trial | null = null;
  const take = (cy: number, cz: number, held: readonly number[]) => {
    let radius = 0;
    for (const i of held) radius = Math.max(radius, Math.hypot(y[i]! - cy, z[i]! - cz));
    if (best !== null && radius >= best.radius) return;
    for (const i of few)
      if (!held.includes(i) && Math.hypot(y[i]! - cy, z[i]! - cz) > radius + ON_CIRCLE * scale) return;
    best = { y: cy, z: cz, radius, held };
  };
  few.forEach((i, first) => {
    few.slice(first + 1).forEach((j, second) => {
      take((y[i]! + y[j]!) / 2, (z[i]! + z[j]!) / 2, [i, j]);
      for (const k of few.slice(first + second + 2)) {
        const [ay, az, by, bz] = [y[j]! - y[i]!, z[j]! - z[i]!, y[k]! - y[i]!, z[k]! - z[i]!];
        const cross = 2 * (ay * bz - az * by);
        const [a2, b2] = [ay * ay + az * az, by * by + bz * bz];
        const [cy, cz] = [y[i]! + (bz * a2 - az * b2) / cross, z[i]! + (ay * b2 - by * a2) / cross];
        if (Number.isFinite(cy) && Number.isFinite(cz)) take(cy, cz, [i, j, k]);
      }
    });
  });
  return best;
}

/**
 * Centre (about the origin of the section) and radius of the smallest circle that holds all points.
 *
 * Method: the smallest circle about two or three points, to which the point farthest outside is added until none is outside.
 * Each step is the exact answer for the points held and the new one, so that the radius grows and never comes back; in practice
 * a dozen steps of n distances. The problem is convex: where nothing is outside, it is the global optimum.
 * Source: Welzl 1991 (smallest enclosing disks); the choice of the farthest point, Gärtner 1999 (both from memory)
 */
export function smallestCircleAbout(
  section: SectionPoints,
  hull: readonly number[],
): { y: number; z: number; radius: number } {
  const outer = subsection(section, hull);
  const { y, z } = outer;
  const farthestFrom = (cy: number, cz: number): number => {
    let [farthest, most] = [0, -1];
    for (let i = 0; i < outer.n; i++) {
      const square = (y[i]! - cy) ** 2 + (z[i]! - cz) ** 2;
      if (square > most) [farthest, most] = [i, square];
    }
    return farthest;
  };
  const first = farthestFrom(0, 0);
  let at: Trial = { y: y[first]!, z: z[first]!, radius: 0, held: [first] };
  for (;;) {
    const farthest = farthestFrom(at.y, at.z);
    if (at.held.includes(farthest)) break;
    const next = aboutFew(outer, [...at.held, farthest]);
    if (next === null || next.radius <= at.radius) break;
    at = next;
  }
  return { y: at.y, z: at.z, radius: distancesFrom(outer, at.y, at.z)[1] };
}
