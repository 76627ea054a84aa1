import { CoreError } from "../../errors";
import {
  enterForm,
  enterSize,
  enterVector,
  type FormBaseline,
  rankScore,
  type SizeBaseline,
  sizeScore,
  sizeSd,
  standardised,
  type VectorBaseline,
  vectorScore,
} from "./alarm-baseline";
import { type AlarmThresholds, FAST_REFERENCE, SLOW_REFERENCE } from "./alarm-thresholds";

/**
 * What signalled: the frame itself is outside its guarded limit; one score beyond the limit; the fast or the slow sum; the test
 * of a whole series for a change.
 */
export type AlarmTest = "frame" | "limit" | "fast" | "slow" | "whole";

/** One signal. Index counts the frames of the stream, or of the line, from 0. */
export type AlarmSignal = Readonly<{ index: number; side: "upper" | "lower" | null; test: AlarmTest }>;

type Vector = readonly [towards12: number, towards3: number];

type Scheme = Readonly<{
  thresholds: AlarmThresholds;
  /** Cleared frames enter the baseline; a frozen one alarms too often for hundreds of frames. */
  grows: boolean;
}>;

/**
 * What a stream is tested by. Edges of a size are places in its unit; null: this side has no region and counts from the mean.
 * A side that is not watched is left out of `sides`. A form deviation is shifted back by its in-control edge before it is
 * ranked. A vector's region is a circle about its approved centre.
 */
export type SizeScheme = Scheme &
  Readonly<{ kind: "size"; sides: "both" | "upper" | "lower"; lower: number | null; upper: number | null }>;
export type FormScheme = Scheme &
  Readonly<{
    kind: "form";
    shift: number;
    /** A size whose gauge does not resolve it is ranked on its lower side as well, shifted up by so much. */
    lowerShift?: number;
  }>;
export type VectorScheme = Scheme & Readonly<{ kind: "vector"; centre: Vector; radius: number }>;
export type AlarmScheme = SizeScheme | FormScheme | VectorScheme;

/** Slow and fast sum. */
type Sums = Readonly<{ slow: number; fast: number }>;

type Course = Readonly<{
  /** Frames so far: the index of the next one. */
  frames: number;
  /** A signal was raised and the sums have not been quiet for 25 frames since: nothing enters the baseline. */
  isOut: boolean;
  /** Frames in a row at which no sum passed half of its threshold and nothing signalled. */
  quietFor: number;
}>;

/** Where the run of a stream stands: plain data, so that a run can go on from where it was stored, to the bit. */
export type SizeState = Course &
  Readonly<{ kind: "size"; baseline: SizeBaseline; upper: Sums; lower: Sums; waiting: readonly number[] }>;
export type FormState = Course &
  Readonly<{ kind: "form"; baseline: FormBaseline; upper: Sums; lower?: Sums; waiting: readonly number[] }>;
export type VectorState = Course &
  Readonly<{ kind: "vector"; baseline: VectorBaseline; slow: Vector; fast: Vector; waiting: readonly Vector[] }>;
export type AlarmState = SizeState | FormState | VectorState;

/** Frames at rest after which a change is over. */
export const FRAMES_TO_BE_OVER = 25;
/** Part of its threshold below which a sum is quiet: a change that goes on passes it within a few frames. */
const QUIET_PART = 0.5;

const AT_REST: Sums = { slow: 0, fast: 0 };
const NOWHERE: Vector = [0, 0];

/** The run of a stream before its first frame. */
export function startAlarm(baseline: SizeBaseline | FormBaseline | VectorBaseline): AlarmState {
  const course = { frames: 0, isOut: false, quietFor: 0, waiting: [] };
  if ("sorted" in baseline) return { ...course, kind: "form", baseline, upper: AT_REST };
  if (typeof baseline.mean === "number")
    return { ...course, kind: "size", baseline: baseline as SizeBaseline, upper: AT_REST, lower: AT_REST };
  return { ...course, kind: "vector", baseline: baseline as VectorBaseline, slow: NOWHERE, fast: NOWHERE };
}

export type AlarmStep<State, Score> = Readonly<{
  state: State;
  score: Score;
  signal: AlarmSignal | null;
}>;

/**
 * One frame of a stream: its score, the sums after it, and the signal if it raises one. After a signal the sums begin again at
 * zero and the frames that waited are dropped; frames enter the baseline once the slow sums stand at zero.
 *
 * @param scheme - of the kind of the state
 * @param state - before the frame
 * @param value - finite
 * @param isOutside - the frame is outside its guarded limit: a signal by itself, whatever the sums say; it enters no baseline
 * @returns the state after the frame (the one given is not changed), the score in sd, the signal or null
 * @throws CoreError invalid-argument for a scheme of another kind, not-finite
 * Method: constant time for sizes and vectors; for forms a search among at most 1,000 values
 * Accuracy: exact scores and sums of tests/core/control/alarm/alarm-scores.test.ts; a run from a stored state equals the whole
 *   run to the bit
 * Source: Hawkins 1987, The Statistician 36 299-315 (self-starting); Crosier 1988, Technometrics 30 291-303 (vector)
 */
export function stepAlarm(
  scheme: SizeScheme,
  state: SizeState,
  value: number,
  isOutside?: boolean,
): AlarmStep<SizeState, number>;
export function stepAlarm(
  scheme: FormScheme,
  state: FormState,
  value: number,
  isOutside?: boolean,
): AlarmStep<FormState, number>;
export function stepAlarm(
  scheme: VectorScheme,
  state: VectorState,
  value: Vector,
  isOutside?: boolean,
): AlarmStep<VectorState, Vector>;
export function stepAlarm(
  scheme: AlarmScheme,
  state: AlarmState,
  value: number | Vector,
  isOutside = false,
): AlarmStep<AlarmState, number | Vector> {
  if (scheme.kind === "size" && state.kind === "size" && typeof value === "number")
    return stepSize(scheme, state, requireFinite(value), isOutside);
  if (scheme.kind === "form" && state.kind === "form" && typeof value === "number")
    return stepForm(scheme, state, requireFinite(value), isOutside);
  if (scheme.kind === "vector" && state.kind === "vector" && typeof value === "object") {
    requireFinite(value[0] + value[1]);
    return stepVector(scheme, state, value, isOutside);
  }
  throw new CoreError(
    "invalid-argument",
    `stepAlarm: a ${state.kind} stream must have a scheme and values of its kind`,
  );
}

function requireFinite(value: number): number {
  if (!Number.isFinite(value)) throw new CoreError("not-finite", `stepAlarm: value must be finite; got ${value}`);
  return value;
}

function stepSize(
  scheme: SizeScheme,
  state: SizeState,
  value: number,
  isOutside: boolean,
): AlarmStep<SizeState, number> {
  const { sides, grows, thresholds } = scheme;
  const { baseline, waiting, frames } = state;
  const sd = sizeSd(baseline);
  const score = grows ? sizeScore(baseline, value) : (value - baseline.mean) / sd;
  const beyond = (edge: number | null, side: 1 | -1) =>
    side * score - (edge === null ? 0 : (side * (edge - baseline.mean)) / sd);
  const above = sides === "lower" ? -Infinity : beyond(scheme.upper, 1);
  const below = sides === "upper" ? -Infinity : beyond(scheme.lower, -1);
  const upper = grown(state.upper, above);
  const lower = grown(state.lower, below);
  const tests = { upper: passed(upper, above, thresholds), lower: passed(lower, below, thresholds) };
  const further = above >= below ? "upper" : "lower";
  const side = isOutside || tests[further] !== null ? further : further === "upper" ? "lower" : "upper";
  const test = isOutside ? "frame" : tests[side];
  if (test !== null)
    return {
      score,
      signal: { index: frames, side, test },
      state: { ...state, ...signalled(frames), upper: AT_REST, lower: AT_REST, waiting: [] },
    };
  const course = courseAfter(state, isQuiet(upper, thresholds) && isQuiet(lower, thresholds));
  if (course.isOut) return { score, signal: null, state: { ...state, ...course, upper, lower, waiting: [] } };
  const isClear = upper.slow === 0 && lower.slow === 0;
  if (!isClear)
    return { score, signal: null, state: { ...state, ...course, upper, lower, waiting: [...waiting, value] } };
  const next = grows ? enterSize(waiting.reduce(enterSize, baseline), value) : baseline;
  return { score, signal: null, state: { ...state, ...course, upper, lower, baseline: next, waiting: [] } };
}

function stepForm(
  scheme: FormScheme,
  state: FormState,
  value: number,
  isOutside: boolean,
): AlarmStep<FormState, number> {
  const { shift, lowerShift, grows, thresholds } = scheme;
  const { baseline, waiting, frames } = state;
  const above = rankScore(baseline, value - shift);
  const below = lowerShift === undefined ? -Infinity : -rankScore(baseline, value + lowerShift);
  const upper = grown(state.upper, above);
  const lower = grown(state.lower ?? AT_REST, below);
  const sums = lowerShift === undefined ? { upper } : { upper, lower };
  const tests = { upper: passed(upper, above, thresholds), lower: passed(lower, below, thresholds) };
  const further = above >= below ? "upper" : "lower";
  const side = isOutside || tests[further] !== null ? further : further === "upper" ? "lower" : "upper";
  const test = isOutside ? "frame" : tests[side];
  const score = above;
  if (test !== null) {
    const rested = lowerShift === undefined ? { upper: AT_REST } : { upper: AT_REST, lower: AT_REST };
    return {
      score,
      signal: { index: frames, side, test },
      state: { ...state, ...signalled(frames), ...rested, waiting: [] },
    };
  }
  const course = courseAfter(state, isQuiet(upper, thresholds) && isQuiet(lower, thresholds));
  if (course.isOut) return { score, signal: null, state: { ...state, ...course, ...sums, waiting: [] } };
  if (upper.slow > 0 || lower.slow > 0)
    return { score, signal: null, state: { ...state, ...course, ...sums, waiting: [...waiting, value] } };
  const next = grows ? enterForm(waiting.reduce(enterForm, baseline), value) : baseline;
  return { score, signal: null, state: { ...state, ...course, ...sums, baseline: next, waiting: [] } };
}

function stepVector(
  scheme: VectorScheme,
  state: VectorState,
  value: Vector,
  isOutside: boolean,
): AlarmStep<VectorState, Vector> {
  const { thresholds, grows, centre, radius } = scheme;
  const { baseline, waiting, frames } = state;
  const { mean, squares, count } = baseline;
  const own = grows ? vectorScore(baseline, value) : standardised(baseline, [value[0] - mean[0], value[1] - mean[1]]);
  // The region is a place: what the mean has moved since the approval counts.
  const moved = radius > 0 ? standardised(baseline, [mean[0] - centre[0], mean[1] - centre[1]]) : NOWHERE;
  const score: Vector = [own[0] + moved[0], own[1] + moved[1]];
  const edge = radius > 0 ? radius / Math.sqrt((squares[0] + squares[2]) / (2 * (count - 1))) : 0;
  const slow = shrunk(state.slow, score, edge + SLOW_REFERENCE);
  const fast = shrunk(state.fast, score, edge + FAST_REFERENCE);
  const lengths = { slow: Math.hypot(...slow), fast: Math.hypot(...fast) };
  const test = isOutside ? "frame" : passed(lengths, Math.hypot(...score) - edge, thresholds);
  if (test !== null)
    return {
      score,
      signal: { index: frames, side: null, test },
      state: { ...state, ...signalled(frames), slow: NOWHERE, fast: NOWHERE, waiting: [] },
    };
  const course = courseAfter(state, isQuiet(lengths, thresholds));
  if (course.isOut) return { score, signal: null, state: { ...state, ...course, slow, fast, waiting: [] } };
  if (lengths.slow > 0)
    return { score, signal: null, state: { ...state, ...course, slow, fast, waiting: [...waiting, value] } };
  const next = grows ? enterVector(waiting.reduce(enterVector, baseline), value) : baseline;
  return { score, signal: null, state: { ...state, ...course, slow, fast, baseline: next, waiting: [] } };
}

function grown({ slow, fast }: Sums, beyond: number): Sums {
  return { slow: Math.max(0, slow + beyond - SLOW_REFERENCE), fast: Math.max(0, fast + beyond - FAST_REFERENCE) };
}

function shrunk(sum: Vector, score: Vector, reference: number): Vector {
  const [y, z] = [sum[0] + score[0], sum[1] + score[1]];
  const length = Math.hypot(y, z);
  if (length <= reference) return NOWHERE;
  const kept = 1 - reference / length;
  return [y * kept, z * kept];
}

/** The quickest test that a frame passes, or null. */
function passed(sums: Sums, beyond: number, { slow, fast, limit }: AlarmThresholds): "limit" | "fast" | "slow" | null {
  if (beyond > limit) return "limit";
  if (sums.fast > fast) return "fast";
  return sums.slow > slow ? "slow" : null;
}

function isQuiet(sums: Sums, thresholds: AlarmThresholds): boolean {
  return sums.slow <= QUIET_PART * thresholds.slow && sums.fast <= QUIET_PART * thresholds.fast;
}

function signalled(frames: number): Course {
  return { frames: frames + 1, isOut: true, quietFor: 0 };
}

function courseAfter({ frames, isOut, quietFor }: Course, quiet: boolean): Course {
  const rest = quiet ? quietFor + 1 : 0;
  return { frames: frames + 1, isOut: isOut && rest < FRAMES_TO_BE_OVER, quietFor: rest };
}
