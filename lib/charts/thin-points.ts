/**
 * Indices of the points to draw when there are more than a screen can show: the lowest and the highest of each bucket, and
 * the ends, so that no extreme is lost; and every point that has to be seen, as those outside a limit.
 *
 * @param values - number[n] in drawing order
 * @param buckets - at least 1; one per pixel of width is enough
 * @param always - indices that are kept whatever lies beside them
 * @returns ascending indices; all of them when n <= 2 * buckets + 2
 */
export function thinPoints(
  values: readonly number[],
  buckets: number,
  always: readonly number[] = [],
): readonly number[] {
  const n = values.length;
  if (n <= 2 * buckets + 2) return values.map((_, index) => index);
  const kept: number[] = [0];
  const size = (n - 2) / buckets;
  for (let bucket = 0; bucket < buckets; bucket += 1) {
    const from = 1 + Math.floor(bucket * size);
    const to = Math.min(n - 1, 1 + Math.floor((bucket + 1) * size));
    let low = from;
    let high = from;
    for (let i = from + 1; i < to; i += 1) {
      if ((values[i] ?? 0) < (values[low] ?? 0)) low = i;
      if ((values[i] ?? 0) > (values[high] ?? 0)) high = i;
    }
    kept.push(Math.min(low, high));
    if (low !== high) kept.push(Math.max(low, high));
  }
  kept.push(n - 1);
  return always.length === 0 ? kept : [...new Set([...kept, ...always])].sort((a, b) => a - b);
}
