import { CoreError } from "../errors";

/** A point or vector of a section's plane, mm: y towards 12 o'clock, z towards 3 o'clock (clockwise from the drive side). */
export type PlanePoint = { readonly y: number; readonly z: number };

const RAD_PER_DEG = Math.PI / 180;

/** Clock position of a vector in degrees clockwise from 12 seen from the drive side, in [0, 360); the null vector gives 0. */
export function clockOf(vector: PlanePoint): number {
  const degrees = Math.atan2(vector.z, vector.y) / RAD_PER_DEG;
  return degrees < 0 ? degrees + 360 : degrees;
}

/**
 * Points of a section from polar readings.
 *
 * @param anglesDeg - number[n], degrees clockwise from 12 seen from the drive side, no two the same direction
 * @param radiiMm - number[n], mm from `centre`, all finite
 * @param centre - where the radii start, mm
 * @throws CoreError length-mismatch, not-finite; duplicate where two angles are the same direction
 */
export function pointsFromPolar(
  anglesDeg: readonly number[],
  radiiMm: readonly number[],
  centre: PlanePoint = { y: 0, z: 0 },
): PlanePoint[] {
  if (anglesDeg.length !== radiiMm.length)
    throw new CoreError(
      "length-mismatch",
      `pointsFromPolar: anglesDeg and radiiMm must be equally long; got ${anglesDeg.length} and ${radiiMm.length}`,
    );
  const seen = new Map<number, number>();
  return anglesDeg.map((angle, i) => {
    const radius = radiiMm[i]!;
    if (!Number.isFinite(angle) || !Number.isFinite(radius))
      throw new CoreError(
        "not-finite",
        `pointsFromPolar: angles and radii must be finite; got ${angle} and ${radius} (at index ${i})`,
        { index: i },
      );
    const direction = ((angle % 360) + 360) % 360;
    if (seen.has(direction))
      throw new CoreError(
        "duplicate",
        `pointsFromPolar: anglesDeg must be distinct directions; got ${angle} twice (at index ${i})`,
        { index: i, first: seen.get(direction) },
      );
    seen.set(direction, i);
    const phi = direction * RAD_PER_DEG;
    return { y: centre.y + radius * Math.cos(phi), z: centre.z + radius * Math.sin(phi) };
  });
}
