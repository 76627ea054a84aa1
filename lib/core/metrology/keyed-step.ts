/** Steps in which indicators and bore gauges are read, µm, coarsest first; a dial of 0.01 mm is the coarsest in use. */
const STEPS_UM = [10, 5, 1, 0.5, 0.1];

/** With fewer readings all of them are multiples of a coarse step too often by chance. */
const FEWEST_READINGS = 8;

/** Share of a step by which a keyed number misses a multiple of it in binary. */
const ROUNDING_SHARE = 1e-6;

/**
 * Step in which readings were keyed, µm: the coarsest usual step of which all of them are multiples.
 *
 * @param readingsUm - readings of one gauge, µm, finite
 * @returns 0 from fewer than eight readings, from equal ones, and where no usual step fits
 */
export function keyedStepUm(readingsUm: readonly number[]): number {
  if (readingsUm.length < FEWEST_READINGS || readingsUm.every((reading) => reading === readingsUm[0])) return 0;
  const isMultiple = (step: number): boolean =>
    readingsUm.every((reading) => Math.abs(reading / step - Math.round(reading / step)) < ROUNDING_SHARE);
  return STEPS_UM.find(isMultiple) ?? 0;
}
