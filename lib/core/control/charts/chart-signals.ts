import { CoreError } from "../../errors";
import type { ChartSignal } from "../rules/chart-signal";
import { assertRunRule, type RunRule } from "../rules/run-rules";
import { scanRunRules } from "../rules/scan-run-rules";

/** Columns of a chart that rules are tested on; one entry a point. */
export type ChartColumns = Readonly<{
  values: readonly (number | null)[];
  centre: readonly number[];
  sigma: readonly number[] | null;
  lower: readonly (number | null)[];
  upper: readonly (number | null)[];
}>;

/** Lines that are the same at all points. */
export type ConstantLines = Readonly<{
  centre: number;
  sigma: number | null;
  lower: number | null;
  upper: number | null;
}>;

/**
 * Signals of a chart. Points without a value and excluded points are tested as though they were not there:
 * a pattern goes on across them, and they belong to none.
 *
 * @param columns - the chart's columns, equal in length
 * @param excluded - indices left out, ascending
 * @param rules - run rules; zone rules need `sigma`
 * @param constant - the lines where they are the same at all points: the scan is faster on constant lines
 * @returns signals with indices of the columns given
 */
export function chartSignals(
  columns: ChartColumns,
  excluded: readonly number[],
  rules: readonly RunRule[],
  constant: ConstantLines | null = null,
): ChartSignal[] {
  const { values } = columns;
  if (constant !== null && rules.every(({ test }) => test === "beyond-limit") && rules.length <= 1) {
    return beyondLimits(values, excluded, rules, constant);
  }
  const whole = excluded.length === 0 && isComplete(values);
  const kept = whole ? EMPTY : keptPoints(values, excluded);
  const tested = new Float64Array(whole ? values.length : kept.length);
  for (let position = 0; position < tested.length; position++) {
    tested[position] = values[whole ? position : kept[position]!]!;
  }
  if (tested.length === 0) return [];
  function line<T>(column: readonly T[]): readonly T[] {
    return whole ? column : Array.from(kept, (index) => column[index]!);
  }
  const { centre, sigma, lower, upper } = columns;
  const lines = constant ?? {
    centre: line(centre),
    sigma: sigma === null ? null : line(sigma),
    lower: line(lower),
    upper: line(upper),
  };
  const signals = scanRunRules(tested, lines, rules);
  if (whole) return signals;
  return signals.map((signal) => ({
    ...signal,
    index: kept[signal.index]!,
    points: signal.points.map((position) => kept[position]!),
  }));
}

/** The one test of most charts, without the machinery of patterns. */
function beyondLimits(
  values: readonly (number | null)[],
  excluded: readonly number[],
  rules: readonly RunRule[],
  { centre, sigma, lower, upper }: ConstantLines,
): ChartSignal[] {
  const signals: ChartSignal[] = [];
  const rule = rules[0];
  if (rule === undefined || rule.test !== "beyond-limit") return signals;
  assertRunRule(rule);
  if (rule.sigmas !== undefined && sigma === null) {
    throw new CoreError("invalid-argument", "chartSignals: sigma must be given where a rule has its own distance");
  }
  const above = rule.sigmas === undefined ? (upper ?? Infinity) : centre + rule.sigmas * sigma!;
  const below = rule.sigmas === undefined ? (lower ?? -Infinity) : centre - rule.sigmas * sigma!;
  let next = 0;
  for (let index = 0; index < values.length; index++) {
    const value = values[index]!;
    if (index === excluded[next]) next++;
    else if (value !== null && (value > above || value < below)) {
      signals.push({ index, rule: rule.id, side: value > above ? "upper" : "lower", points: [index] });
    }
  }
  return signals;
}

const EMPTY = new Int32Array(0);

function isComplete(values: readonly (number | null)[]): values is readonly number[] {
  for (let index = 0; index < values.length; index++) if (values[index] === null) return false;
  return true;
}

/** Indices of the points that have a value and are not excluded (`excluded` ascending). */
export function keptPoints(values: ArrayLike<number | null>, excluded: readonly number[]): Int32Array {
  const kept = new Int32Array(values.length);
  let count = 0;
  let next = 0;
  for (let index = 0; index < values.length; index++) {
    if (index === excluded[next]) next++;
    else if (values[index] !== null) kept[count++] = index;
  }
  return kept.subarray(0, count);
}

/** Checks a list of indices to leave out and gives it ascending without repetition. */
export function checkedExclusions(name: string, excluded: readonly number[] | undefined, count: number): number[] {
  for (const index of excluded ?? []) {
    if (!Number.isInteger(index) || index < 0 || index >= count) {
      throw new CoreError("out-of-range", `${name}: excluded must hold indices from 0 to ${count - 1}; got ${index}`, {
        index,
      });
    }
  }
  return [...new Set(excluded)].sort((a, b) => a - b);
}

/** Throws CoreError not-finite at the first value that is not a finite number. */
export function assertAllFinite(name: string, values: ArrayLike<number>, argument = "values"): void {
  for (let index = 0; index < values.length; index++) {
    if (!Number.isFinite(values[index]!)) {
      throw new CoreError(
        "not-finite",
        `${name}: ${argument} must be finite; got ${values[index]} (at index ${index})`,
        {
          index,
        },
      );
    }
  }
}

/** Throws CoreError out-of-range unless the value is absent or a finite number above 0. */
export function assertPositive(name: string, argument: string, value: number | undefined): void {
  if (value !== undefined && !(value > 0 && value < Infinity)) {
    throw new CoreError("out-of-range", `${name}: ${argument} must be a finite number > 0; got ${value}`, { value });
  }
}

/** One number for each of `count` points. */
export function column<T>(count: number, value: T): T[] {
  return new Array<T>(count).fill(value);
}
