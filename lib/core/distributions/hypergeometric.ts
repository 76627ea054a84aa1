import hypergeometric from "@stdlib/stats-base-dists-hypergeometric";
import { CoreError } from "../errors";

/** Lot of `lotSize` items with `marked` among them, `drawn` without replacement. */
export interface HypergeometricParameters {
  readonly lotSize: number;
  readonly marked: number;
  readonly drawn: number;
}

/**
 * Probability that exactly k of the drawn items are marked.
 * @param k - count, integer
 * @param parameters - integers, 0 <= marked <= lotSize, 0 <= drawn <= lotSize
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function hypergeometricPmf(k: number, parameters: HypergeometricParameters): number {
  const { lotSize, marked, drawn } = requireParameters("hypergeometricPmf", k, parameters);
  return hypergeometric.pmf(k, lotSize, marked, drawn);
}

/**
 * Probability that at most k of the drawn items are marked.
 * @param k - count, integer
 * @param parameters - integers, 0 <= marked <= lotSize, 0 <= drawn <= lotSize
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Accuracy: 10 digits on tests/reference/distributions.json (the distribution package)
 */
export function hypergeometricCdf(k: number, parameters: HypergeometricParameters): number {
  const { lotSize, marked, drawn } = requireParameters("hypergeometricCdf", k, parameters);
  if (k < 0 || k < drawn + marked - lotSize) return 0;
  return k >= Math.min(marked, drawn) ? 1 : hypergeometric.cdf(k, lotSize, marked, drawn);
}

/**
 * Probability that more than k of the drawn items are marked, evaluated directly by counting the unmarked ones.
 * @param k - count, integer
 * @param parameters - integers, 0 <= marked <= lotSize, 0 <= drawn <= lotSize
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function hypergeometricSf(k: number, parameters: HypergeometricParameters): number {
  const { lotSize, marked, drawn } = requireParameters("hypergeometricSf", k, parameters);
  return hypergeometricCdf(drawn - k - 1, { lotSize, marked: lotSize - marked, drawn });
}

function requireParameters(name: string, k: number, parameters: HypergeometricParameters): HypergeometricParameters {
  const { lotSize, marked, drawn } = parameters;
  for (const value of [k, lotSize, marked, drawn]) {
    if (!Number.isInteger(value)) {
      throw new CoreError("out-of-range", `${name}: arguments must be integers; got ${value}`, { k, ...parameters });
    }
  }
  if (lotSize < 0 || marked < 0 || drawn < 0 || marked > lotSize || drawn > lotSize) {
    throw new CoreError(
      "out-of-range",
      `${name}: marked and drawn must be 0..lotSize; got ${marked}, ${drawn} of ${lotSize}`,
      { ...parameters },
    );
  }
  return parameters;
}
