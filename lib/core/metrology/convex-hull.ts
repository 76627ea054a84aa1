import type { SectionPoints } from "./section-points";

/** Points on the edge of the convex hull, in one turn round it (Andrew 1979, Information Processing Letters 9 216-219). */
export function hullOf({ n, y, z }: Pick<SectionPoints, "n" | "y" | "z">): number[] {
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
export function narrowestStrip({ y, z }: SectionPoints, hull: readonly number[]): number {
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
