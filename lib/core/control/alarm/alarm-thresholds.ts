import { normalSf, normalUpperQuantile } from "../../distributions/normal";
import { CoreError } from "../../errors";
import { brentRoot } from "../../numerics/brent-root";
import { cusumRunLengthOneSided } from "../run-length/cusum-run-length";
import { SHORTEST_ALARM_RUN } from "./alarm-budget";

/** Reference values of the two sums beyond the edge, in sd: half the shift that each finds soonest. */
export const SLOW_REFERENCE = 0.5;
export const FAST_REFERENCE = 1.25;
/** Parts of the false alarms: a test with the share p has the run length A / p. */
export const SUM_SHARE = 0.45;
export const LIMIT_SHARE = 0.1;

/** What the three tests of a stream are held against, in sd: of the slow sum, the fast sum, and a score beyond its edge. */
export type AlarmThresholds = Readonly<{ slow: number; fast: number; limit: number }>;

const LONGEST_RUN = 1e8;
/** From so many sd between the edges on the other side is silent: its run length is over 20 times as long. */
const SILENT_GAP = 1;
/** Siegmund's correction of the barrier, 2 x 0.583. */
const BARRIER_CORRECTION = 1.166;

const known = new Map<string, AlarmThresholds>();
const KNOWN_MOST = 4096;

/**
 * Thresholds of the three tests of a score, so that a stream at the edge of its in-control region has the run length asked for
 * by the union bound.
 * Formula: 1 / L(h) at the edge = share / A for each test alone: L of a one-sided sum from the integral equation; where both
 * sides can alarm 1 / L = 1 / L(h, 0) + 1 / L(h, -gap).
 *
 * @param runLength - A, frames between false alarms, 370 to 1e8
 * @param gap - distance of the two edges in sd, >= 0: 0 for a stream without a region that is watched on both sides, Infinity
 *   for one that is watched on one side only
 * @returns thresholds in sd
 * @throws CoreError out-of-range
 * Accuracy: all digits of tests/reference/alarm-thresholds.json
 * Source: Page 1954, Biometrika 41 100-115; Lucas and Crosier 1982, Technometrics 24 199-205 (two sides); Siegmund 1985,
 *   Sequential Analysis, 2.6 (first guess)
 * @example alarmThresholds(8580, Infinity).slow // 8.0053
 */
export function alarmThresholds(runLength: number, gap = Infinity): AlarmThresholds {
  if (!(runLength >= SHORTEST_ALARM_RUN && runLength <= LONGEST_RUN))
    throw new CoreError(
      "out-of-range",
      `alarmThresholds: runLength must be from ${SHORTEST_ALARM_RUN} to ${LONGEST_RUN}; got ${runLength}`,
      { runLength },
    );
  if (!(gap >= 0)) throw new CoreError("out-of-range", `alarmThresholds: gap must be >= 0; got ${gap}`, { gap });
  const other = gap >= SILENT_GAP ? Infinity : gap;
  const key = `${runLength} ${other}`;
  const before = known.get(key);
  if (before !== undefined) return before;
  const made = {
    slow: intervalOf(SLOW_REFERENCE, runLength / SUM_SHARE, other),
    fast: intervalOf(FAST_REFERENCE, runLength / SUM_SHARE, other),
    limit: limitOf(LIMIT_SHARE / runLength, other),
  };
  if (known.size >= KNOWN_MOST) known.clear();
  known.set(key, made);
  return made;
}

function intervalOf(k: number, runLength: number, gap: number): number {
  const rate = (h: number) => {
    const own = 1 / cusumRunLengthOneSided({ k, h });
    if (gap === 0) return 2 * own;
    return gap === Infinity ? own : own + 1 / cusumRunLengthOneSided({ k, h }, -gap);
  };
  const excess = (h: number) => Math.log(rate(h) * runLength);
  // L is about (e^(2 k b) - 2 k b - 1) / (2 k^2) with b = h + 1.166: right to a tenth of h.
  const target = runLength * (gap === 0 ? 2 : 1);
  let b = Math.log(2 * k * k * target) / (2 * k);
  for (let step = 0; step < 20; step++) b = Math.log(2 * k * k * target + 2 * k * b + 1) / (2 * k);
  let low = Math.max(0.05, b - BARRIER_CORRECTION - 0.2);
  let high = low + 0.4;
  while (excess(low) < 0 && low > 0.01) low /= 1.5;
  while (excess(high) > 0) high += 0.4;
  return brentRoot(excess, low, high, 1e-12);
}

/** Distance beyond the edge that one frame at the edge passes with a given chance. */
function limitOf(chance: number, gap: number): number {
  const oneSide = normalUpperQuantile(chance);
  if (gap === Infinity) return oneSide;
  const twoSides = normalUpperQuantile(chance / 2);
  if (gap === 0) return twoSides;
  return brentRoot((c) => Math.log((normalSf(c) + normalSf(c + gap)) / chance), oneSide, twoSides);
}
