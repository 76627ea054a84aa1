/** Phases over which the share is averaged; the mean changes by less than 1e-4 with more. */
const PHASES = 360;

/**
 * Mean square of the part of a lobe's crest, of unit amplitude and any phase, that no reading at the given angles reaches.
 * E[(1 - max over i of cos(order (delta - phi_i)))^2] over delta.
 *
 * @param anglesDeg - number[n], degrees, n >= 1
 * @param order - of the lobe, 2 for the oval of a two-point size
 * @returns 1.5 for one angle, 0.227 for two quarter turns apart by order 2, 0.0165 for four. Of an ovality (twice the amplitude of the
 *   size) four directions miss at one crest at most (1 - cos 45) / 2 = 0.146, a seventh; 0.064 as root mean square, 0.050 on average
 */
export function missedShare(anglesDeg: readonly number[], order: number): number {
  let sum = 0;
  for (let step = 0; step < PHASES; step += 1) {
    const phase = (step * 2 * Math.PI) / PHASES;
    const nearest = Math.max(...anglesDeg.map((angle) => Math.cos((order * angle * Math.PI) / 180 - phase)));
    sum += (1 - nearest) ** 2;
  }
  return sum / PHASES;
}
