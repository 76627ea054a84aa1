import { CoreError } from "../errors";

/** Terms below e^-DROP of the peak are left out. */
const DROP = 42;

/**
 * Integral over the real line of a positive integrand with one peak, given by its logarithm.
 * Formula: integral of exp(logF(v)) dv
 * @param logF - logarithm of the integrand, unimodal, -Infinity where it vanishes, analytic
 * @param start - a point near the peak
 * @param step - step of the rule, at most half the smallest standard deviation of any factor
 * @returns the integral, relative accuracy kept however small it is
 * @throws CoreError not-converged if no finite peak is found or it is wider than 200,000 steps
 * Method: trapezoidal rule on a grid through the peak, summed outwards; it converges exponentially for such integrands.
 * Source: Trefethen & Weideman 2014, SIAM Review 56(3) 385-458
 */
export function integratePeaked(logF: (v: number) => number, start: number, step: number): number {
  const peak = climb(logF, start, step);
  const top = logF(peak);
  if (!Number.isFinite(top)) {
    throw new CoreError("not-converged", `integratePeaked: no finite peak near ${start}`, { start });
  }
  let sum = 1;
  for (const direction of [1, -1]) {
    for (let i = 1; ; i++) {
      const drop = logF(peak + direction * i * step) - top;
      if (!(drop > -DROP)) break;
      sum += Math.exp(drop);
      if (i > 200_000)
        throw new CoreError("not-converged", `integratePeaked: peak near ${start} is too wide`, { start });
    }
  }
  return Math.exp(top) * sum * step;
}

/** Hill climb with doubling and halving strides; ends within one step of the top. */
function climb(logF: (v: number) => number, start: number, step: number): number {
  let at = start;
  let value = logF(at);
  for (let tries = 0; value === -Infinity && tries < 60; tries++) {
    at += step * 2 ** tries;
    value = logF(at);
  }
  let stride = step * 16;
  for (let moves = 0; moves < 5000; moves++) {
    const right = logF(at + stride);
    const left = logF(at - stride);
    if (right > value && right >= left) {
      at += stride;
      value = right;
      stride *= 1.5;
    } else if (left > value) {
      at -= stride;
      value = left;
      stride *= 1.5;
    } else if (stride <= step) {
      return at;
    } else {
      stride *= 0.5;
    }
  }
  return at;
}
