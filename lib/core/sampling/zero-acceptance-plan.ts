import { hypergeometricCdf } from "../distributions/hypergeometric";
import { CoreError } from "../errors";
import { requireLot } from "./attribute-tables";

/** A risk that is met exactly counts as met, whatever the last digits of a double say. */
const ROUNDING = 1 + 1e-9;

/**
 * Zero-acceptance plan: the smallest sample in which a lot as bad as the tolerance shows no nonconforming item with at most the
 * consumer's risk.
 * @param lot - items, integer >= 2
 * @param index - lot tolerance, percent nonconforming, in (0, 100]; a lot counts as that bad from the next whole item on
 * @param risk - consumer's risk, in (0, 1); 10 % unless said
 * @returns items to draw and the number of nonconforming items of a lot at the tolerance; none may be found
 * @throws CoreError out-of-range
 * Source: exact hypergeometric; tolerance and risk as in Dodge & Romig 1941 (lot tolerance per cent defective, 10 %)
 */
export function zeroAcceptancePlan(
  lot: number,
  index: number,
  risk = 0.1,
): { readonly n: number; readonly ac: 0; readonly re: 1; readonly marked: number } {
  requireLot("zeroAcceptancePlan", lot);
  if (!(index > 0 && index <= 100))
    throw new CoreError("out-of-range", `zeroAcceptancePlan: index must be over 0 and at most 100; got ${index}`);
  if (!(risk > 0 && risk < 1))
    throw new CoreError("out-of-range", `zeroAcceptancePlan: risk must be in (0, 1); got ${risk}`);
  const share = (lot * index) / 100;
  const marked = Math.max(1, Math.ceil(share - 1e-9 * Math.max(1, share)));
  let [low, high] = [1, lot - marked + 1];
  while (low < high) {
    const middle = Math.floor((low + high) / 2);
    if (hypergeometricCdf(0, { lotSize: lot, marked, drawn: middle }) <= risk * ROUNDING) high = middle;
    else low = middle + 1;
  }
  return { n: low, ac: 0, re: 1, marked };
}
