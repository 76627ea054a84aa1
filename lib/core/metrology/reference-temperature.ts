import { CoreError } from "../errors";

/** Reference temperature of dimensions, degrees Celsius (ISO 1). */
export const REFERENCE_TEMPERATURE_C = 20;

/** What a plan says of the temperature at which sizes are measured, degrees Celsius. */
export type TemperatureRule = {
  readonly fromC: number;
  readonly toC: number;
  /** True where it has to be read for every frame. */
  readonly asked: boolean;
};

/** Where a plan says nothing: 20 +-5 C (common practice, no source). */
export const USUAL_TEMPERATURE_RULE: TemperatureRule = { fromC: 15, toC: 25, asked: false };

/**
 * Growth of a size per kelvin, µm: size x expansion.
 *
 * @param sizeMm - mm, > 0
 * @param expansionPerMegakelvin - 1e-6 / K
 */
export function growthUmPerKelvin(sizeMm: number, expansionPerMegakelvin: number): number {
  return (sizeMm * expansionPerMegakelvin) / 1000;
}

/**
 * Size at 20 degrees, a second number beside the reading and never in its place. A comparator set in a ring of the same
 * temperature sees only the difference of the expansions of part and ring.
 * size20 = size - size (alpha_part - alpha_ring) (t - 20).
 *
 * @param sizeMm - as read, mm
 * @param temperatureC - of part and ring, degrees Celsius
 * @param partExpansion - of the part, 1e-6 / K
 * @param ringExpansion - of the setting ring, 1e-6 / K; 0 for a gauge that is corrected to 20 degrees itself
 * @throws CoreError not-finite
 * Source: ISO 1; first order, the second is below 1e-4 of the correction.
 */
export function sizeAtReference(
  sizeMm: number,
  temperatureC: number,
  partExpansion: number,
  ringExpansion: number,
): number {
  if (![sizeMm, temperatureC, partExpansion, ringExpansion].every(Number.isFinite))
    throw new CoreError("not-finite", "sizeAtReference: all arguments must be finite", {
      sizeMm,
      temperatureC,
      partExpansion,
      ringExpansion,
    });
  const perKelvinUm = growthUmPerKelvin(sizeMm, partExpansion - ringExpansion);
  return sizeMm - (perKelvinUm * (temperatureC - REFERENCE_TEMPERATURE_C)) / 1000;
}
