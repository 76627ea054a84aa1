import { CoreError } from "../../errors";
import { JUMP, START_LOSS } from "./change-start";

/**
 * Whether a change has ended within a standardised stream: the last value of the stretch that a step, a trend or a greater spread from
 * `start` explains best, where going back to the level before is likelier than going on by START_LOSS.
 *
 * @param values - number[n], standardised by the baseline, all finite
 * @param start - index of the first value of the change
 * @param kind - how it changed; frames that jump among others end with the last of them that does
 * @returns index of the last changed value; null where it goes on, or where nothing says that it ended
 * @throws CoreError out-of-range for a start outside the series
 * Method: gain of each end as in changeStart with a known level before, one pass
 */
export function changeEnd(
  values: readonly number[],
  start: number,
  kind: "step" | "trend" | "spread" | "frames",
): number | null {
  const n = values.length;
  if (!Number.isInteger(start) || start < 0 || start >= n)
    throw new CoreError("out-of-range", `changeEnd: start must be an integer from 0 to ${n - 1}; got ${start}`);
  let [sum, squares, product, regressor] = [0, 0, 0, 0];
  let best = { gain: -Infinity, last: n - 1 };
  let gain = 0;
  for (let index = start; index < n; index++) {
    const value = values[index]!;
    const age = index - start + 1;
    sum += value;
    squares += value * value;
    product += age * value;
    regressor += age * age;
    const variance = squares / age;
    // Frames that jump among others grow the spread until the last of them.
    if (kind === "step") gain = (sum * sum) / age;
    else if (kind === "trend") gain = (product * product) / regressor;
    else gain = variance > 1 ? age * (variance - 1 - Math.log(variance)) : 0;
    if (kind === "frames" && Math.abs(value) <= JUMP) continue;
    if (gain > best.gain) best = { gain, last: index };
  }
  return best.gain - gain > START_LOSS ? best.last : null;
}
