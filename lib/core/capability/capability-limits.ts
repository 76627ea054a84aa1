import { CoreError } from "../errors";

/** Specification limits of one characteristic, unit of its values. null: no limit on that side. */
export interface CapabilityLimits {
  readonly lower: number | null;
  readonly upper: number | null;
  /** For Cpm; null or left out: the middle of two limits, none with one limit. */
  readonly target?: number | null;
}

/**
 * Checks specification limits.
 * @param name - calling function, for the message
 * @param limits - the limits
 * @returns the limits
 * @throws CoreError not-finite, or out-of-range if lower is not below upper
 */
export function requireCapabilityLimits(name: string, limits: CapabilityLimits): CapabilityLimits {
  for (const value of [limits.lower, limits.upper, limits.target ?? null]) {
    if (value !== null && !Number.isFinite(value)) {
      throw new CoreError("not-finite", `${name}: limits must be finite or null; got ${value}`);
    }
  }
  if (limits.lower !== null && limits.upper !== null && !(limits.lower < limits.upper)) {
    throw new CoreError(
      "out-of-range",
      `${name}: lower limit must be below upper; got ${limits.lower}, ${limits.upper}`,
      {
        lower: limits.lower,
        upper: limits.upper,
      },
    );
  }
  return limits;
}

/**
 * Target of a characteristic: the one given, else the middle of two limits.
 * @param limits - checked limits
 * @returns target, or null with one limit and no target given
 */
export function targetOf({ lower, upper, target }: CapabilityLimits): number | null {
  if (target !== undefined && target !== null) return target;
  return lower !== null && upper !== null ? lower + (upper - lower) / 2 : null;
}
