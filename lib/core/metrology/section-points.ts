import { CoreError } from "../errors";
import type { PlanePoint } from "./plane-point";

/** Points of one section about their centroid: the form in which the circle fits compute. */
export type SectionPoints = {
  readonly n: number;
  readonly origin: PlanePoint;
  readonly y: Float64Array;
  readonly z: Float64Array;
  /** Largest distance from the centroid, mm. */
  readonly scale: number;
};

/** Rounding of the input counts as so many units in the last place when points are tested for lying on a line. */
const INPUT_ROUNDING = 16 * Number.EPSILON;

/**
 * Checks the points of a section and moves them to their centroid.
 *
 * @param points - PlanePoint[n], n >= 3, any length unit, all finite and different, not on one line
 * @throws CoreError too-few-values if n < 3; not-finite; degenerate where all are equal or on one line; duplicate where two
 * points are the same
 */
export function toSectionPoints(points: readonly PlanePoint[], caller: string): SectionPoints {
  const n = points.length;
  if (n < 3)
    throw new CoreError("too-few-values", `${caller}: points must have at least 3 points; got ${n}`, { count: n });
  let sumY = 0;
  let sumZ = 0;
  let magnitude = 0;
  for (let i = 0; i < n; i++) {
    const { y, z } = points[i]!;
    if (!Number.isFinite(y) || !Number.isFinite(z))
      throw new CoreError("not-finite", `${caller}: points must be finite; got (${y}, ${z}) (at index ${i})`, {
        index: i,
      });
    sumY += y;
    sumZ += z;
    magnitude = Math.max(magnitude, Math.abs(y), Math.abs(z));
  }
  const origin = { y: sumY / n, z: sumZ / n };
  const y = new Float64Array(n);
  const z = new Float64Array(n);
  let scale = 0;
  let farthest = 0;
  for (let i = 0; i < n; i++) {
    y[i] = points[i]!.y - origin.y;
    z[i] = points[i]!.z - origin.z;
    const distance = Math.hypot(y[i]!, z[i]!);
    if (distance > scale) [scale, farthest] = [distance, i];
  }
  if (scale <= INPUT_ROUNDING * magnitude)
    throw new CoreError("degenerate", `${caller}: points must not be all equal; got ${n} equal points`, { count: n });
  refuseDuplicates(points, caller);
  const [ey, ez] = [y[farthest]! / scale, z[farthest]! / scale];
  let width = 0;
  for (let i = 0; i < n; i++) width = Math.max(width, Math.abs(ey * z[i]! - ez * y[i]!));
  if (width <= Math.max(1e-12 * scale, INPUT_ROUNDING * magnitude))
    throw new CoreError("degenerate", `${caller}: points must not lie on one line; got ${n} collinear points`, {
      count: n,
    });
  return { n, origin, y, z, scale };
}

function refuseDuplicates(points: readonly PlanePoint[], caller: string): void {
  const order = points.map((_, i) => i).sort((a, b) => points[a]!.y - points[b]!.y || points[a]!.z - points[b]!.z);
  for (let k = 1; k < order.length; k++) {
    const [i, j] = [order[k - 1]!, order[k]!];
    if (points[i]!.y === points[j]!.y && points[i]!.z === points[j]!.z)
      throw new CoreError(
        "duplicate",
        `${caller}: points must be distinct; got the same point twice (at index ${Math.max(i, j)})`,
        {
          index: Math.max(i, j),
          first: Math.min(i, j),
        },
      );
  }
}
