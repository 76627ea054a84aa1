import { CoreError, type Estimate } from "../errors";

/** Centre of one section: x along the shell from DS to NDS, y towards 12 and z towards 3 o'clock, mm. */
export type SectionCentre = { readonly xMm: number; readonly yMm: number; readonly zMm: number };

/** A straight line through `point`, along the unit vector `direction` with a positive x component. */
export type Axis = {
  readonly point: SectionCentre;
  readonly direction: readonly [x: number, y: number, z: number];
};

/** Sections closer than this share of their distance from the origin are at one place. */
const SAME_PLACE_SHARE = 1e-12;

/** Line through a point with slopes dy/dx and dz/dx. */
function axisWithSlopes(point: SectionCentre, slopeY: number, slopeZ: number): Axis {
  const length = Math.hypot(1, slopeY, slopeZ);
  return { point, direction: [1 / length, slopeY / length, slopeZ / length] };
}

/** Mean of section centres: the mid-point of the seat as measured. */
export function midPoint(centres: readonly SectionCentre[]): SectionCentre {
  let x = 0;
  let y = 0;
  let z = 0;
  for (const centre of centres) {
    x += centre.xMm;
    y += centre.yMm;
    z += centre.zMm;
  }
  const n = centres.length;
  return { xMm: x / n, yMm: y / n, zMm: z / n };
}

/**
 * Least-squares axis of a seat through its section centres (y and z regressed on the exact x).
 *
 * @param centres - SectionCentre[n], mm, finite
 * @returns the axis through the mean of the centres; not estimable from sections at one depth only
 * @throws CoreError too-few-values if empty; not-finite
 * Edge cases: two sections -> the line through both.
 */
export function seatAxis(centres: readonly SectionCentre[]): Estimate<Axis> {
  if (centres.length === 0) throw new CoreError("too-few-values", "seatAxis: centres must not be empty");
  for (const c of centres)
    if (!Number.isFinite(c.xMm + c.yMm + c.zMm))
      throw new CoreError("not-finite", "seatAxis: centres must be finite", { centre: { ...c } });
  const mid = midPoint(centres);
  let xx = 0;
  let xy = 0;
  let xz = 0;
  let reach = 0;
  for (const c of centres) {
    const dx = c.xMm - mid.xMm;
    xx += dx * dx;
    xy += dx * (c.yMm - mid.yMm);
    xz += dx * (c.zMm - mid.zMm);
    reach = Math.max(reach, Math.abs(c.xMm));
  }
  if (Math.sqrt(xx) <= SAME_PLACE_SHARE * reach || xx === 0)
    return { ok: false, reason: "one section gives the offset of a seat, not its direction" };
  return { ok: true, value: axisWithSlopes(mid, xy / xx, xz / xx), warnings: [] };
}

/** Line through two points at different x. */
export function axisThrough(from: SectionCentre, to: SectionCentre): Axis {
  const dx = to.xMm - from.xMm;
  return axisWithSlopes(from, (to.yMm - from.yMm) / dx, (to.zMm - from.zMm) / dx);
}

/** Distance of a point from an axis, mm. */
export function distanceFromAxis(axis: Axis, point: SectionCentre): number {
  const [ux, uy, uz] = axis.direction;
  const dx = point.xMm - axis.point.xMm;
  const dy = point.yMm - axis.point.yMm;
  const dz = point.zMm - axis.point.zMm;
  return Math.hypot(dy * uz - dz * uy, dz * ux - dx * uz, dx * uy - dy * ux);
}

/** Angle between two axes, rad in [0, pi / 2]. Method: atan2 of cross and dot product, exact for small angles. */
export function angleBetweenAxesRad(a: Axis, b: Axis): number {
  const [ax, ay, az] = a.direction;
  const [bx, by, bz] = b.direction;
  return Math.atan2(
    Math.hypot(ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx),
    Math.abs(ax * bx + ay * by + az * bz),
  );
}
