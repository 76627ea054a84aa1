import { CoreError } from "../../errors";
import { JUMP, START_LOSS } from "./change-start";

/** How a change that may end came. */
export type EndingKind = "step" | "trend" | "spread" | "frames";

/**
 * Gain of a change from `start` to each place, after which the level before came back: 2 ln likelihood over no change.
 *
 * @param values - number[n], standardised by the baseline, all finite
 * @param start - index of the first value of the change
 * @param kind - how it changed; frames that jump among others are a greater spread until the last of them
 * @returns Float64Array[n - start], one for each last changed value
 * @throws CoreError out-of-range for a start outside the series
 * Method: gain of each end as in changeStart with a known level before, one pass
 */
export function endGains(values: readonly number[], start: number, kind: EndingKind): Float64Array {
  const n = values.length;
  if (!Number.isInteger(start) || start < 0 || start >= n)
    throw new CoreError("out-of-range", `endGains: start must be an integer from 0 to ${n - 1}; got ${start}`);
  let [sum, squares, product, regressor] = [0, 0, 0, 0];
  const gains = new Float64Array(n - start);
  for (let index = start; index < n; index++) {
    const value = values[index]!;
    const age = index - start + 1;
    sum += value;
    squares += value * value;
    product += age * value;
    regressor += age * age;
    const variance = squares / age;
    if (kind === "step") gains[age - 1] = (sum * sum) / age;
    else if (kind === "trend") gains[age - 1] = (product * product) / regressor;
    else gains[age - 1] = variance > 1 ? age * (variance - 1 - Math.log(variance)) : 0;
  }
  return gains;
}

/**
 * Whether a change has ended within a standardised stream: the last value of the stretch that a step, a trend or a greater spread from
 * `start` explains best, where going back to the level before is likelier than going on by START_LOSS.
 *
 * @param values - as for endGains
 * @param start - index of the first value of the change
 * @param kind - how it changed; frames that jump among others end with the last of them that does
 * @returns index of the last changed value; null where it goes on, or where nothing says that it ended
 * @throws CoreError out-of-range for a start outside the series
 */
export function changeEnd(values: readonly number[], start: number, kind: EndingKind): number | null {
  const gains = endGains(values, start, kind);
  let best = { gain: -Infinity, last: values.length - 1 };
  gains.forEach((gain, at) => {
    if (kind === "frames" && Math.abs(values[start + at]!) <= JUMP) return;
    if (gain > best.gain) best = { gain, last: start + at };
  });
  return best.gain - (gains.at(-1) ?? 0) > START_LOSS ? best.last : null;
}
