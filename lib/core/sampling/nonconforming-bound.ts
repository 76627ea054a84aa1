import { hypergeometricCdf } from "../distributions/hypergeometric";
import { CoreError } from "../errors";

/** A lot of which some items were measured, drawn at random, and what was found among them. */
export type MeasuredLot = {
  readonly lot: number;
  readonly measured: number;
  /** Nonconforming ones among the measured. */
  readonly found: number;
};

/**
 * Upper confidence bound of the nonconforming items of a whole lot: the most of them with which so few (or fewer) would still be
 * found by a random sample of that size with a probability of more than 1 - confidence. Exact for a finite lot.
 *
 * @param lot - integers, 0 <= found <= measured <= lot
 * @param confidence - of the one-sided bound, in (0, 1)
 * @returns number of items, from `found` to lot - measured + found
 * @throws CoreError out-of-range
 * Source: the hypergeometric counterpart of the Clopper-Pearson bound (Clopper and Pearson 1934; for finite lots Buonaccorsi
 * 1987; from memory).
 */
export function nonconformingBound({ lot, measured, found }: MeasuredLot, confidence = 0.95): number {
  const inOrder = [0, found, measured, lot].every(
    (value, at, all) => Number.isSafeInteger(value) && value >= (all[at - 1] ?? 0),
  );
  if (!inOrder)
    throw new CoreError(
      "out-of-range",
      `nonconformingBound: found, measured and lot must be integers from 0 that do not fall; got ${found}, ${measured}, ${lot}`,
    );
  if (!(confidence > 0 && confidence < 1))
    throw new CoreError("out-of-range", `nonconformingBound: confidence must lie between 0 and 1; got ${confidence}`);
  const isPlausible = (marked: number): boolean =>
    hypergeometricCdf(found, { lotSize: lot, marked, drawn: measured }) > 1 - confidence;
  let low = found;
  let high = lot - measured + found;
  // The probability falls with the number of marked items.
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if (isPlausible(middle)) low = middle;
    else high = middle - 1;
  }
  return low;
}
