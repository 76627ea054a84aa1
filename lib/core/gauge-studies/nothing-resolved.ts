import { isRoundingNoise } from "../control/charts/point-statistics";

/**
 * Why readings without a spread that can be computed have no answer: the gauge showed the same throughout, or what they differ by is
 * so small that its square is 0 in double precision.
 *
 * @param values - number[n], n >= 1, any unit, all finite
 * @param equal - what is said where they are equal
 */
export function nothingResolved(
  values: readonly number[],
  equal: string,
): { readonly ok: false; readonly reason: string } {
  let [smallest, largest] = [values[0] ?? 0, values[0] ?? 0];
  for (const value of values) [smallest, largest] = [Math.min(smallest, value), Math.max(largest, value)];
  if (isRoundingNoise(largest - smallest, values)) return { ok: false, reason: equal };
  return {
    ok: false,
    reason: `The readings differ by ${largest - smallest} at most: too little to compute with. Give them in a smaller unit.`,
  };
}

/** What is said of a crossed study whose readings are all equal. */
export const allEqual = (count: number): string =>
  `All ${count} readings are equal: the gauge does not resolve what differs between these parts, and nothing can be estimated. Use a gauge with a finer step.`;
