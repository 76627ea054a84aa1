import { CoreError } from "../../errors";
import { assertAllFinite } from "../charts/chart-signals";

/** step: the mean jumps and stays; trend: it moves along a line; spread: the scatter grows; frames: some frames jump, others do not. */
export type ChangeKind = "step" | "trend" | "spread" | "frames";

/** 2 ln of the likelihood of a change at each place over that of none, for one kind. */
export type KindProfile = Readonly<{ kind: ChangeKind; gains: Float64Array; best: number }>;

export type ChangeStart = Readonly<{
  kind: ChangeKind;
  /** Index of the first value after the change, and the first and last index that it may be. */
  start: number;
  earliest: number;
  latest: number;
  /** Largest 2 ln likelihood ratio, less what the free sizes cost. */
  gain: number;
  /** Mean square of what the likeliest step or trend leaves, at least 1: above it the change is not quite of that form. */
  noise: number;
  /** Kinds that were looked at, the likeliest first. */
  profiles: readonly KindProfile[];
}>;

type Before = Readonly<{ count: number; sum: number }>;

export type ChangeStartOptions = Readonly<{
  /** Values of the baseline that stand before the series: their count and their sum, standardised. None by default. */
  before?: Before;
  /** Standard deviation of ordinary changes of the level, standardised: between shifts, by wear. 0 by default. */
  wander?: number;
  /** Kinds that are tried; step and trend by default. */
  kinds?: readonly ChangeKind[];
}>;

/** Loss of 2 ln likelihood up to which a place belongs to the interval. Computed in the design of signals, see there. */
export const START_LOSS = 7.35;
/** Standardised value from which a frame may be one of some that jumped. */
export const JUMP = 3;
/** How far the set of a spread is measured from its own best instead of from a likelier step: chosen by simulation, see the bench. */
const SPREAD_SHARE = 0.47;
/** Standard errors by which the mean square of a fit's rest has to pass 1. */
const CERTAIN = 3;
/** Free numbers of a fit: level, size, place. */
const FITTED = 3;
const MIXTURE_ROUNDS = 12;
/** Frames that jump among others are looked for in the last values only: each place costs a fit of its own. */
const MIXTURE_PLACES = 150;

/**
 * Since when, and how, a standardised stream has changed.
 * Formula: gain of a step or trend at s: explained squares of a common level (known from the baseline's values as well), of g = 1 or
 *   i - s + 1 from s on, and of an ordinary change of the level at s of variance wander^2, less what that variance costs; of a spread:
 *   n (v - 1 - ln v), v the mean square from s on, at least 1; of frames: twice the sum of ln(1 - p + p exp(d u - d^2 / 2)) from s on, less
 *   ln n for the share p.
 *
 * @param values - number[n], n >= 1, standardised by the baseline: mean 0, sd 1 before the change
 * @returns the likeliest kind and start; the interval holds every place within START_LOSS of the best, as a step or as a trend, and as
 *   a spread or frames where that is the likeliest; START_LOSS counts in units of the noise that the fit leaves
 * @throws CoreError too-few-values, not-finite, invalid-argument where no kind is tried
 * Method: sums from the end, one pass for each kind, so that a refit with each of n frames costs n^2 additions in all
 * Accuracy: coverage at the signal and 30 frames later in tests/bench/signals-cases.ts
 * Source: Hinkley 1970, Biometrika 57 1-17 (likelihood of a change point); the union of kinds because a step cannot be told from a
 *   trend when the signal comes
 */
export function changeStart(values: readonly number[], options: ChangeStartOptions = {}): ChangeStart {
  const { before = { count: 0, sum: 0 }, wander = 0, kinds = ["step", "trend"] } = options;
  if (values.length === 0) throw new CoreError("too-few-values", "changeStart: values must be at least 1; got 0");
  assertAllFinite("changeStart", values);
  if (kinds.length === 0) throw new CoreError("invalid-argument", "changeStart: kinds must be at least 1; got 0");
  const profiles = kinds
    .map((kind) => profileOf(kind, values, before, wander))
    .filter(({ best }) => best > -Infinity)
    .sort((a, b) => b.best - a.best);
  const first = profiles[0]!;
  let [start, earliest, latest] = [0, values.length - 1, 0];
  let best = -Infinity;
  const noise = noiseBeside(first, values);
  const loss = START_LOSS * noise;
  for (const { kind, gains, best: own } of profiles) {
    if (kind === "frames" && kind !== first.kind) continue;
    // One far value is a step of one frame to the likelihood: a spread that it may begin has its own best.
    const reference =
      kind === "spread" && own >= first.best - START_LOSS
        ? SPREAD_SHARE * own + (1 - SPREAD_SHARE) * first.best
        : first.best;
    for (let place = 0; place < gains.length; place++) {
      const gain = gains[place]!;
      if (gain > best) [best, start] = [gain, place];
      if (gain < reference - loss) continue;
      if (place < earliest) earliest = place;
      if (place > latest) latest = place;
    }
  }
  return { kind: first.kind, start, earliest, latest, gain: first.best, noise, profiles };
}

/** What a fit leaves says how far its form can be trusted; a spread and frames have their scatter in the likelihood. */
function noiseBeside({ kind, best }: KindProfile, values: readonly number[]): number {
  if (kind === "spread" || kind === "frames") return 1;
  const squares = values.reduce((sum, value) => sum + value * value, 0);
  const left = Math.max(1, values.length - FITTED);
  const noise = (squares - best) / left;
  return noise > 1 + CERTAIN * Math.sqrt(2 / left) ? noise : 1;
}

function profileOf(kind: ChangeKind, values: readonly number[], before: Before, wander: number): KindProfile {
  const gains =
    kind === "spread"
      ? spreadGains(values)
      : kind === "frames"
        ? framesGains(values)
        : levelGains(kind, values, before, wander);
  let best = -Infinity;
  for (const gain of gains) if (gain > best) best = gain;
  return { kind, gains, best };
}

function levelGains(kind: "step" | "trend", values: readonly number[], before: Before, wander: number): Float64Array {
  const n = values.length;
  const count = before.count + n;
  let total = before.sum;
  for (const value of values) total += value;
  const gains = new Float64Array(n);
  let sum = 0;
  let moment = 0;
  for (let place = n - 1; place >= 0; place--) {
    sum += values[place]!;
    moment += sum;
    const after = n - place;
    const weights = kind === "step" ? after : (after * (after + 1)) / 2;
    const squares = kind === "step" ? after : (weights * (2 * after + 1)) / 3;
    // Products under the inverse covariance I - c h h', h = 1 from the place on.
    const c = wander ** 2 / (1 + after * wander ** 2);
    const ones = count - c * after * after;
    const level = total - c * after * sum;
    const both = weights * (1 - c * after);
    const square = squares - c * weights * weights - (both * both) / ones;
    const product = (kind === "step" ? sum : moment) - c * weights * sum - (both * level) / ones;
    const usual = c * sum * sum - Math.log1p(after * wander ** 2) + (level * level) / ones;
    // Without values before it a change at the first place changes nothing.
    gains[place] = usual + (square > 1e-9 * squares ? (product * product) / square : 0);
  }
  return gains;
}

function spreadGains(values: readonly number[]): Float64Array {
  const gains = new Float64Array(values.length);
  let squares = 0;
  for (let place = values.length - 1; place >= 0; place--) {
    squares += values[place]! * values[place]!;
    const after = values.length - place;
    const variance = squares / after;
    gains[place] = variance > 1 ? after * (variance - 1 - Math.log(variance)) : 0;
  }
  return gains;
}

/** Of frames that jump to one level while the others stay; -Infinity where none jumps. */
function framesGains(values: readonly number[]): Float64Array {
  const gains = new Float64Array(values.length).fill(-Infinity);
  for (const sign of [1, -1]) {
    const from = Math.max(0, values.length - MIXTURE_PLACES);
    const last = values.findLastIndex((value) => sign * value > JUMP);
    for (let place = last; place >= from; place--) {
      const gain = mixtureGain(values, place, sign);
      if (gain > gains[place]!) gains[place] = gain;
    }
  }
  return gains;
}

function mixtureGain(values: readonly number[], from: number, sign: number): number {
  const n = values.length - from;
  let jumped = 0;
  let level = 0;
  for (let index = from; index < values.length; index++) {
    if (sign * values[index]! <= JUMP) continue;
    jumped++;
    level += values[index]!;
  }
  if (jumped === 0) return -Infinity;
  level /= jumped;
  let share = jumped / n;
  let gain = 0;
  for (let round = 0; round < MIXTURE_ROUNDS; round++) {
    let [weights, weighted] = [0, 0];
    gain = 0;
    for (let index = from; index < values.length; index++) {
      const odds = level * values[index]! - (level * level) / 2;
      // ln(1 - p + p e^o) without overflow
      const larger = Math.max(odds, 0);
      const likelihood = (1 - share) * Math.exp(-larger) + share * Math.exp(odds - larger);
      gain += larger + Math.log(likelihood);
      const weight = (share * Math.exp(odds - larger)) / likelihood;
      weights += weight;
      weighted += weight * values[index]!;
    }
    const next = Math.min(weights / n, 1 - 0.5 / n);
    const moved = Math.abs(next - share);
    share = next;
    level = weighted / weights;
    if (moved < 1e-3) break;
  }
  return 2 * gain - Math.log(n);
}
