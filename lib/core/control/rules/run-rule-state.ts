import { CoreError } from "../../errors";
import type { ChartSignal } from "./chart-signal";
import { compileRunRules, setBitCount, type CompiledRunRules } from "./compile-run-rules";
import type { RunRule } from "./run-rules";
import { signalAt } from "./pattern-pass";
import { bitsAt, pointLinesOf, setPointLines } from "./point-lines";
import { scanRunRules, type ChartLines, type LimitLine } from "./scan-run-rules";

/** Where a series stands between two points: plain data, to be stored and sent as it is. */
export type RunRuleState = Readonly<{
  /** Number of points seen. */
  count: number;
  /** The last value, null before the first point. */
  previous: number | null;
  /** Sign of the last difference. */
  direction: -1 | 0 | 1;
  /** One history word a check, newest point in the lowest bit. */
  histories: readonly number[];
}>;

/** One new point with the lines in force at it; limits left out are centre +- 3 sigma, null is no limit. */
export type RulePoint = Readonly<{
  value: number;
  centre: number;
  sigma: number | null;
  lower?: number | null;
  upper?: number | null;
}>;

/** The state before the first point. `startIndex` numbers the first point to come. */
export function initialRunRuleState(compiled: CompiledRunRules, startIndex = 0): RunRuleState {
  return { count: startIndex, previous: null, direction: 0, histories: compiled.checks.map(() => 0) };
}

/**
 * Run rules one point at a time: gives at each point exactly the signals of scanRunRules.
 *
 * @param compiled - result of compileRunRules, kept by the caller
 * @param state - initialRunRuleState(compiled), or the state returned for the point before
 * @param point - the new point and its lines
 * @returns the next state and the signals at this point; indices count from 0 at the first point
 * @throws CoreError not-finite if the value is not finite, length-mismatch if the state belongs to other rules,
 *   out-of-range and invalid-argument as scanRunRules for the lines
 */
export function stepRunRules(
  compiled: CompiledRunRules,
  state: RunRuleState,
  point: RulePoint,
): { state: RunRuleState; signals: ChartSignal[] } {
  const { value } = point;
  if (!Number.isFinite(value))
    throw new CoreError("not-finite", `stepRunRules: value must be finite; got ${value}`, { value });
  if (state.histories.length !== compiled.checks.length) {
    throw new CoreError(
      "length-mismatch",
      `stepRunRules: state must have ${compiled.checks.length} histories; got ${state.histories.length}`,
    );
  }
  const lines = pointLinesOf(compiled);
  setPointLines(lines, compiled, point.centre, point.sigma, point.lower, point.upper);
  const direction = state.previous === null ? 0 : (Math.sign(value - state.previous) as -1 | 0 | 1);
  let bits = bitsAt(compiled, lines, value);
  if (direction > 0) bits |= compiled.risingBits;
  if (direction < 0) bits |= compiled.fallingBits;
  if (direction * state.direction < 0) bits |= compiled.turningBits;
  const signals: ChartSignal[] = [];
  const histories = state.histories.map((history, c) => {
    const { need, span } = compiled.checks[c]!;
    const next = (history << 1) | ((bits >>> c) & 1);
    if (next & 1 && setBitCount(next & ((1 << span) - 1)) >= need)
      signals.push(signalAt(compiled, c, next, state.count));
    return next;
  });
  return { state: { count: state.count + 1, previous: value, direction, histories }, signals };
}

/**
 * Signals after a late point was put into its place: only the window it touches is evaluated again.
 *
 * @param earlier - signals of the series without the point, as scanRunRules gives them
 * @param values - number[n], the series with the point in place, all finite
 * @param inserted - index of the new point in `values`
 * @param lines - lines of the series with the point in place
 * @param rules - the rules of `earlier`
 * @returns all signals (equal to scanRunRules of the whole), those that are new, and those of `earlier` that no longer
 *   hold (with their new indices)
 * @throws CoreError out-of-range if `inserted` is not an index of values, and as scanRunRules
 */
export function insertLatePoint(
  earlier: readonly ChartSignal[],
  values: readonly number[],
  inserted: number,
  { lines, rules }: { lines: ChartLines; rules: readonly RunRule[] },
): { signals: ChartSignal[]; added: ChartSignal[]; removed: ChartSignal[] } {
  if (!Number.isInteger(inserted) || inserted < 0 || inserted >= values.length) {
    throw new CoreError("out-of-range", `insertLatePoint: inserted must be an index of values; got ${inserted}`);
  }
  const { window } = compileRunRules(rules);
  const replayFrom = Math.max(0, inserted - window + 1);
  const end = Math.min(values.length, inserted + window);
  const part = <T extends LimitLine | undefined>(line: T): T =>
    (typeof line === "object" && line !== null ? line.slice(replayFrom, end) : line) as T;
  const shifted = (signal: ChartSignal): ChartSignal => {
    const move = (index: number) => (index >= inserted ? index + 1 : index);
    return { ...signal, index: move(signal.index), points: signal.points.map(move) };
  };
  const touched = scanRunRules(
    values.slice(replayFrom, end),
    { centre: part(lines.centre), sigma: part(lines.sigma), lower: part(lines.lower), upper: part(lines.upper) },
    rules,
  )
    .map((signal) => ({
      ...signal,
      index: signal.index + replayFrom,
      points: signal.points.map((index) => index + replayFrom),
    }))
    .filter((signal) => signal.index >= inserted);
  const moved = earlier.map(shifted);
  const inWindow = (signal: ChartSignal) => signal.index >= inserted && signal.index < end;
  const key = (signal: ChartSignal) => `${signal.index} ${signal.rule} ${signal.side} ${signal.points.join()}`;
  const before = moved.filter(inWindow);
  const oldKeys = new Set(before.map(key));
  const newKeys = new Set(touched.map(key));
  return {
    signals: [
      ...moved.filter((signal) => signal.index < inserted),
      ...touched,
      ...moved.filter((signal) => signal.index >= end),
    ],
    added: touched.filter((signal) => !oldKeys.has(key(signal))),
    removed: before.filter((signal) => !newKeys.has(key(signal))),
  };
}
