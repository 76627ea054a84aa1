import { CoreError } from "../errors";
import { cpkLowerBound } from "./index-intervals";

/**
 * Number of frames at which the lower confidence bound of Cpk or Ppk reaches a target, if the index stays as it is.
 * @param index - present estimate
 * @param target - value to prove, > 0
 * @param confidence - one-sided, default 0.95
 * @returns total number of frames (>= 2), or a reason when no number will do
 * @throws CoreError not-finite, out-of-range
 * Method: bisection on n of Bissell's lower bound, which rises with n.
 * Source: Bissell 1990, Applied Statistics 39(3), 331-340
 */
export function framesToProve(
  index: number,
  target: number,
  confidence = 0.95,
): { readonly ok: true; readonly frames: number } | { readonly ok: false; readonly reason: string } {
  if (!Number.isFinite(index) || !(target > 0 && Number.isFinite(target))) {
    throw new CoreError("out-of-range", `framesToProve: index must be finite and target > 0; got ${index}, ${target}`);
  }
  const proves = (n: number): boolean => cpkLowerBound(index, { n, degreesOfFreedom: n - 1, confidence }) >= target;
  const most = 1e9;
  if (index <= target || !proves(most)) {
    return { ok: false, reason: "The index is not above the target: more frames at this level will not prove it." };
  }
  let low = 1;
  let high = most;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (middle > 1 && proves(middle)) high = middle;
    else low = middle;
  }
  return { ok: true, frames: high };
}
