/** Mean about the first value, so that a large offset costs no digits. */
export function average(values: ArrayLike<number>): number {
  const origin = values[0]!;
  let sum = 0;
  for (let index = 0; index < values.length; index++) sum += values[index]! - origin;
  return origin + sum / values.length;
}

/** Sample standard deviation (n - 1), two passes. */
export function standardDeviation(values: ArrayLike<number>): number {
  const mean = average(values);
  let squares = 0;
  let residue = 0;
  for (let index = 0; index < values.length; index++) {
    const deviation = values[index]! - mean;
    squares += deviation * deviation;
    residue += deviation;
  }
  return Math.sqrt(Math.max(0, squares - (residue * residue) / values.length) / (values.length - 1));
}

/** Middle value, the mean of the two middle ones for an even count. */
export function median(values: ArrayLike<number>): number {
  const sorted = Float64Array.from(values).sort();
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}

/**
 * Whether a spread is nothing but the rounding of the values it came from: below 8 units in the last place of the
 * largest. Limits from such a spread would mean nothing.
 */
export function isRoundingNoise(spread: number, values: ArrayLike<number>): boolean {
  let largest = 0;
  for (let index = 0; index < values.length; index++) largest = Math.max(largest, Math.abs(values[index]!));
  return !(spread > 8 * Number.EPSILON * largest);
}
