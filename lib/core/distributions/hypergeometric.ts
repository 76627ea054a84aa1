import { CoreError } from "../errors";
import { binomialKernel } from "../numerics/log-gamma";

/** Terms below this share of their sum are left out. */
const LEAST_TERM = 1e-18;

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
 * Method: three binomial probabilities in their saddle-point form.
 * Accuracy: 12 digits on tests/reference/extreme-arguments.json
 * Source: Loader 2000, Fast and Accurate Computation of Binomial Probabilities
 */
export function hypergeometricPmf(k: number, parameters: HypergeometricParameters): number {
  return probability(k, requireParameters("hypergeometricPmf", k, parameters));
}

/**
 * Probability that at most k of the drawn items are marked.
 * @param k - count, integer
 * @param parameters - integers, 0 <= marked <= lotSize, 0 <= drawn <= lotSize
 * @returns probability
 * @throws CoreError out-of-range for another argument
 * Method: sum of the tail on whose side k lies, from its largest term outwards; the distribution package returns 0 for a lot
 * of 10,000 where the answer is 1.
 * Accuracy: 12 digits on tests/reference/distributions.json and extreme-arguments.json
 */
export function hypergeometricCdf(k: number, parameters: HypergeometricParameters): number {
  return tails(k, requireParameters("hypergeometricCdf", k, parameters)).cdf;
}

/**
 * Probability that more than k of the drawn items are marked, evaluated directly.
 * @param k - count, integer
 * @param parameters - integers, 0 <= marked <= lotSize, 0 <= drawn <= lotSize
 * @returns probability
 * @throws CoreError out-of-range for another argument
 */
export function hypergeometricSf(k: number, parameters: HypergeometricParameters): number {
  return tails(k, requireParameters("hypergeometricSf", k, parameters)).sf;
}

function probability(k: number, { lotSize, marked, drawn }: HypergeometricParameters): number {
  const [least, most] = support({ lotSize, marked, drawn });
  if (k < least || k > most) return 0;
  if (drawn === 0 || drawn === lotSize) return 1;
  const share = drawn / lotSize;
  const rest = (lotSize - drawn) / lotSize;
  const chosen = binomialKernel(k, marked, share, rest) * binomialKernel(drawn - k, lotSize - marked, share, rest);
  return chosen / binomialKernel(drawn, lotSize, share, rest);
}

function tails(k: number, parameters: HypergeometricParameters): { readonly cdf: number; readonly sf: number } {
  const { lotSize, marked, drawn } = parameters;
  const [least, most] = support(parameters);
  if (k < least) return { cdf: 0, sf: 1 };
  if (k >= most) return { cdf: 1, sf: 0 };
  // Below the mean the terms fall from k downwards, above it from k + 1 upwards; the smaller tail is the one that is summed.
  const lower = () => Math.min(1, sumFrom(k, least, -1, parameters));
  const upper = () => Math.min(1, sumFrom(k + 1, most, 1, parameters));
  if (k * lotSize < marked * drawn) {
    const cdf = lower();
    if (cdf <= 0.5) return { cdf, sf: 1 - cdf };
  }
  const sf = upper();
  if (sf <= 0.5) return { cdf: 1 - sf, sf };
  const cdf = lower();
  return { cdf, sf: 1 - cdf };
}

function sumFrom(from: number, end: number, way: 1 | -1, parameters: HypergeometricParameters): number {
  const { lotSize, marked, drawn } = parameters;
  const first = probability(from, parameters);
  let term = 1;
  let sum = 1;
  for (let j = from; j !== end; j += way) {
    term *=
      way > 0
        ? (((marked - j) / (j + 1)) * (drawn - j)) / (lotSize - marked - drawn + j + 1)
        : ((j / (marked - j + 1)) * (lotSize - marked - drawn + j)) / (drawn - j + 1);
    sum += term;
    if (term < LEAST_TERM * sum) break;
  }
  return first * sum;
}

/** Smallest and largest count that can be drawn. */
function support({ lotSize, marked, drawn }: HypergeometricParameters): readonly [number, number] {
  return [Math.max(0, drawn + marked - lotSize), Math.min(marked, drawn)];
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
