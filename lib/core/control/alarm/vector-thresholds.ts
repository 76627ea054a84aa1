import { noncentralChiDensity } from "../../distributions/noncentral-chi";
import { riceSf } from "../../distributions/rice";
import { CoreError } from "../../errors";
import { absorptionTimes } from "../../numerics/absorption-times";
import { brentRoot } from "../../numerics/brent-root";
import { panelGrid } from "../../numerics/panel-grid";
import { SHORTEST_ALARM_RUN } from "./alarm-budget";
import {
  type AlarmThresholds,
  alarmThresholds,
  FAST_REFERENCE,
  LIMIT_SHARE,
  SLOW_REFERENCE,
  SUM_SHARE,
} from "./alarm-thresholds";

const LONGEST_RUN = 1e7;
/** Panels are three sd wide or less; beyond this reach the kernel carries nothing. */
const PANEL_WIDTH = 3;
const OUTER_REACH = 12;
/** From this radius on the sum of a vector is that of its part outwards, at this multiple of the run length. */
const SCALAR_RADIUS = 1;
const SCALAR_FACTOR = 3.3;

const known = new Map<string, AlarmThresholds>();
const KNOWN_MOST = 1024;

/**
 * Mean run length of a vector sum of two components without a shift, from zero.
 * Formula: C = |S + v|; S = 0 where C <= k, else (S + v)(1 - k / C); signal where C - k > h. |S| is a Markov chain: C given
 * |S| is noncentral chi.
 *
 * @param k - reference value in sd, > 0
 * @param h - threshold in sd, > 0 and at most 60
 * @returns mean number of vectors to the signal
 * @throws CoreError out-of-range; not-converged where it practically never signals
 * Method: Nystrom solution on Gauss-Legendre panels of |S| with an atom at zero, solved without subtraction
 * Source: Crosier 1988, Technometrics 30 291-303
 * @example vectorSumRunLength(0.5, 5.5) // 201.5
 */
export function vectorSumRunLength(k: number, h: number): number {
  if (!(k > 0) || !(h > 0 && h <= 60))
    throw new CoreError("out-of-range", `vectorSumRunLength: k must be above 0, h from 0 to 60; got ${k} and ${h}`);
  const density = noncentralChiDensity(2);
  const inner = panelGrid([0, k], PANEL_WIDTH);
  const { at, weights } = panelGrid([0, h], Math.min(PANEL_WIDTH, h / 2));
  const outer = panelGrid([h + k, h + k + OUTER_REACH], PANEL_WIDTH);
  const over = (grid: typeof inner, from: number) => {
    let sum = 0;
    grid.at.forEach((c, node) => (sum += grid.weights[node]! * density(c, from)));
    return sum;
  };
  const from = [0, ...at];
  const size = from.length;
  const transitions = new Float64Array(size * size);
  const exits = new Float64Array(size);
  from.forEach((s, row) => {
    transitions[row * size] = over(inner, s);
    for (let col = 1; col < size; col++) {
      transitions[row * size + col] = weights[col - 1]! * density(at[col - 1]! + k, s);
    }
    exits[row] = over(outer, s);
  });
  return absorptionTimes(transitions, exits)[0]!;
}

/**
 * Thresholds of the three tests of a standardised vector of two components: two vector sums and a limit of its length.
 *
 * @param runLength - A, frames between false alarms at the edge of the region, 370 to 1e7
 * @param radius - radius of the in-control region in sd, >= 0
 * @returns thresholds in sd; `limit` is the distance beyond the radius that one vector may have
 * @throws CoreError out-of-range
 * Method: without a region the run length of vectorSumRunLength; from a radius of 1 on the one-sided thresholds of a value at
 *   3.3 A (10 %, by simulation); between the two in proportion to the radius, which is on the safe side. The limit is exact at
 *   every radius (Rice).
 * Accuracy: all digits of tests/reference/alarm-thresholds.json without a region
 * Source: Crosier 1988, Technometrics 30 291-303
 */
export function vectorThresholds(runLength: number, radius = 0): AlarmThresholds {
  if (!(runLength >= SHORTEST_ALARM_RUN && runLength <= LONGEST_RUN))
    throw new CoreError(
      "out-of-range",
      `vectorThresholds: runLength must be from ${SHORTEST_ALARM_RUN} to ${LONGEST_RUN}; got ${runLength}`,
      { runLength },
    );
  if (!(radius >= 0 && radius < Infinity))
    throw new CoreError("out-of-range", `vectorThresholds: radius must be >= 0; got ${radius}`, { radius });
  const key = `${runLength} ${radius}`;
  const before = known.get(key);
  if (before !== undefined) return before;
  const share = Math.min(1, radius / SCALAR_RADIUS);
  const outwards = alarmThresholds(SCALAR_FACTOR * runLength);
  const between = (reference: number, scalar: number) =>
    share === 1 ? scalar : (1 - share) * sumThreshold(reference, runLength / SUM_SHARE) + share * scalar;
  const made = {
    slow: between(SLOW_REFERENCE, outwards.slow),
    fast: between(FAST_REFERENCE, outwards.fast),
    limit: lengthLimit(LIMIT_SHARE / runLength, radius),
  };
  if (known.size >= KNOWN_MOST) known.clear();
  known.set(key, made);
  return made;
}

const sums = new Map<string, number>();

function sumThreshold(k: number, runLength: number): number {
  const key = `${k} ${runLength}`;
  const before = sums.get(key);
  if (before !== undefined) return before;
  const excess = (h: number) => Math.log(vectorSumRunLength(k, h) / runLength);
  let low = 0.5;
  let high = 1;
  while (excess(high) < 0) {
    low = high;
    high *= 1.3;
  }
  const found = brentRoot(excess, low, high, 1e-11);
  if (sums.size >= KNOWN_MOST) sums.clear();
  sums.set(key, found);
  return found;
}

function lengthLimit(chance: number, radius: number): number {
  if (radius === 0) return Math.sqrt(-2 * Math.log(chance));
  const excess = (beyond: number) => Math.log(riceSf(radius + beyond, { offset: radius, sigma: 1 }) / chance);
  return brentRoot(excess, 0.5, 10 + radius);
}
