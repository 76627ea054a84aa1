import { CoreError } from "../errors";
import type { ChartSignal } from "./chart-result";
import type { RunRule } from "./run-rules";
import { scanRunRules } from "./scan-run-rules";

/** Columns of a chart that rules are tested on; one entry a point. */
export type ChartColumns = Readonly<{
  values: readonly (number | null)[];
  centre: readonly number[];
  sigma: readonly number[] | null;
  lower: readonly (number | null)[];
  upper: readonly (number | null)[];
}>;

/**
 * Signals of a chart. Points without a value and excluded points are tested as though they were not there:
 * a pattern goes on across them, and they belong to none.
 *
 * @param columns - the chart's columns, equal in length
 * @param excluded - indices left out, ascending
 * @param rules - run rules; zone rules need `sigma`
 * @returns signals with indices of the columns given
 */
export function chartSignals(
  columns: ChartColumns,
  excluded: readonly number[],
  rules: readonly RunRule[],
): ChartSignal[] {
  const { values } = columns;
  const kept = keptPoints(values, excluded);
  const whole = kept.length === values.length;
  const tested = new Float64Array(kept.length);
  for (let position = 0; position < kept.length; position++) tested[position] = values[kept[position]!]!;
  // One number where a line is the same at all points: the scan is much faster on constant lines.
  const line = <T extends number | null>(column: readonly T[]): T | readonly T[] => {
    const first = column[0]!;
    return column.every((entry) => entry === first)
      ? first
      : whole
        ? column
        : Array.from(kept, (index) => column[index]!);
  };
  if (kept.length === 0) return [];
  const { sigma } = columns;
  const signals = scanRunRules(
    tested,
    {
      centre: line(columns.centre),
      sigma: sigma === null ? null : line(sigma),
      lower: line(columns.lower),
      upper: line(columns.upper),
    },
    rules,
  );
  if (whole) return signals;
  return signals.map((signal) => ({
    ...signal,
    index: kept[signal.index]!,
    points: signal.points.map((position) => kept[position]!),
  }));
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
