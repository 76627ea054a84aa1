import { CoreError } from "../errors";

/** Smallest and largest size of a part, mm. */
export type SizeLimits = { readonly leastMm: number; readonly mostMm: number };

/** Diametral interference of a part in a seat, µm; negative is clearance. */
export type FitInterference = {
  readonly leastUm: number;
  readonly mostUm: number;
  readonly kind: "clearance" | "transition" | "interference";
};

/**
 * Smallest and largest interference over tolerances.
 * Formula: least = part least - seat most; most = part most - seat least
 *
 * @param part - limits of what goes in (bearing or cup), mm
 * @param seat - limits of the seat, or the smallest and largest measured size, mm
 * @returns diametral interference, µm; positive is interference
 * @throws CoreError not-finite; out-of-range where a limit is not > 0; invalid-argument where least exceeds most
 * Source: ISO 286-1:2010, 3.3
 */
export function fitInterference(part: SizeLimits, seat: SizeLimits): FitInterference {
  assertLimits(part, "part");
  assertLimits(seat, "seat");
  const leastUm = (part.leastMm - seat.mostMm) * 1000;
  const mostUm = (part.mostMm - seat.leastMm) * 1000;
  return { leastUm, mostUm, kind: leastUm >= 0 ? "interference" : mostUm <= 0 ? "clearance" : "transition" };
}

/** Limits of a size from its nominal size and deviations, upper first. */
export function sizeLimits(nominalMm: number, deviationsUm: readonly [upper: number, lower: number]): SizeLimits {
  return { leastMm: nominalMm + deviationsUm[1] / 1000, mostMm: nominalMm + deviationsUm[0] / 1000 };
}

function assertLimits({ leastMm, mostMm }: SizeLimits, name: string): void {
  if (!Number.isFinite(leastMm) || !Number.isFinite(mostMm))
    throw new CoreError("not-finite", `fitInterference: ${name} must be finite; got ${leastMm} to ${mostMm}`);
  if (!(leastMm > 0))
    throw new CoreError("out-of-range", `fitInterference: ${name} must be > 0; got ${leastMm}`, { leastMm });
  if (leastMm > mostMm)
    throw new CoreError(
      "invalid-argument",
      `fitInterference: ${name} must have least <= most; got ${leastMm} to ${mostMm}`,
    );
}
