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

/** Interference that a stream of seats will give with parts over their tolerance, µm. */
export type StreamInterference = {
  readonly meanUm: number;
  readonly standardDeviationUm: number;
  /** Bounds that hold 99.73 % of the pairs if both are normal. */
  readonly leastUm: number;
  readonly mostUm: number;
};

/**
 * Interference from the stream's own distribution: seats as they come, parts taken as normal with six standard deviations
 * across their tolerance.
 *
 * @param seat - mean and standard deviation of the stream, mm, at least 25 frames behind them
 * @param part - limits of the part, mm
 * @throws CoreError not-finite, out-of-range, invalid-argument
 */
export function streamInterference(
  seat: { readonly meanMm: number; readonly standardDeviationMm: number },
  part: SizeLimits,
): StreamInterference {
  assertLimits(part, "part");
  if (!Number.isFinite(seat.meanMm) || !Number.isFinite(seat.standardDeviationMm))
    throw new CoreError("not-finite", `streamInterference: seat must be finite; got ${seat.meanMm}`);
  if (seat.standardDeviationMm < 0)
    throw new CoreError(
      "out-of-range",
      `streamInterference: standardDeviationMm must be >= 0; got ${seat.standardDeviationMm}`,
    );
  const meanUm = ((part.leastMm + part.mostMm) / 2 - seat.meanMm) * 1000;
  const standardDeviationUm = Math.hypot(seat.standardDeviationMm, (part.mostMm - part.leastMm) / 6) * 1000;
  return {
    meanUm,
    standardDeviationUm,
    leastUm: meanUm - 3 * standardDeviationUm,
    mostUm: meanUm + 3 * standardDeviationUm,
  };
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
