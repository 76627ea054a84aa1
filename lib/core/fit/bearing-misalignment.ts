import { CoreError } from "../errors";

/** Tilt of a seat against what its bearing takes. */
export type BearingMisalignment = {
  readonly tiltArcmin: number;
  readonly allowedArcmin: number;
  readonly allowedBy: "free tilt" | "maker";
  /** Allowed less tilt: negative where the bearing is forced. */
  readonly marginArcmin: number;
  readonly verdict: "within" | "exceeds";
};

/**
 * Misalignment of one bearing: the tilt of its seat to the line through both bearing centres, against the free tilt at its
 * running clearance or the value that its maker allows, which wins where it is given.
 *
 * @param tiltArcmin - tilt of the seat to the common axis, >= 0
 * @param freeTiltArcmin - free tilt at the running clearance, >= 0
 * @param makerArcmin - the maker's permissible tilt, or null
 * @throws CoreError not-finite, out-of-range
 */
export function bearingMisalignment(
  tiltArcmin: number,
  freeTiltArcmin: number,
  makerArcmin: number | null = null,
): BearingMisalignment {
  for (const [name, value] of Object.entries({ tiltArcmin, freeTiltArcmin, makerArcmin: makerArcmin ?? 0 })) {
    if (!Number.isFinite(value))
      throw new CoreError("not-finite", `bearingMisalignment: ${name} must be finite; got ${value}`);
    if (value < 0) throw new CoreError("out-of-range", `bearingMisalignment: ${name} must be >= 0; got ${value}`);
  }
  const allowedArcmin = makerArcmin ?? freeTiltArcmin;
  return {
    tiltArcmin,
    allowedArcmin,
    allowedBy: makerArcmin === null ? "free tilt" : "maker",
    marginArcmin: allowedArcmin - tiltArcmin,
    verdict: tiltArcmin <= allowedArcmin ? "within" : "exceeds",
  };
}
