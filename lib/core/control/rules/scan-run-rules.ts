import { CoreError } from "../../errors";
import type { ChartSignal } from "./chart-signal";
import { compileRunRules, type CompiledRunRules } from "./compile-run-rules";
import { addDirections, addSignals, directionPass, LEAD, patternPass } from "./pattern-pass";
import { bitsAt, CELLS, pointLinesOf, setBitsByCells, setPointLines, zoneCells } from "./point-lines";
import type { RunRule } from "./run-rules";

/** A line of a chart: one number for all points, or one a point. */
export type Line = number | readonly number[] | Float64Array;
/** A limit may be missing, altogether or at single points. */
export type LimitLine = Line | readonly (number | null)[] | null;

/**
 * Lines that rules are tested against. `sigma` is the standard deviation of the plotted statistic; it may be
 * null where the rules need no zones. A limit left undefined is centre +- 3 sigma; null is no limit.
 */
export type ChartLines = Readonly<{
  centre: Line;
  sigma: Line | null;
  lower?: LimitLine;
  upper?: LimitLine;
}>;

/**
 * All signals of a set of run rules over a series, in one pass.
 *
 * @param values - number[n], n >= 0, all finite, in the order of time
 * @param lines - centre, sigma and limits; per-point lines have n entries
 * @param rules - run rules with distinct ids
 * @returns signals by ascending point, and by the order of the rules at one point; a pattern that goes on signals at
 *   each further point
 * @throws CoreError not-finite, length-mismatch, out-of-range, duplicate
 * Method: one word a point with a bit for each check; run lengths of all checks are counted at once in bit-sliced
 *   counters, so that all rules together cost a few dozen operations a point.
 * Accuracy: equal to a window-by-window version, tests/core/control/rules/scan-run-rules.test.ts
 * Edge cases: a point on a line is not beyond it; a tie ends a rising, falling or alternating run
 * Source: definitions in run-rules.ts
 * @example scanRunRules([0, 3.5], { centre: 0, sigma: 1 }, ZONE_TESTS) // one signal, zone-1, index 1
 */
export function scanRunRules(
  values: readonly number[] | Float64Array,
  lines: ChartLines,
  rules: readonly RunRule[],
): ChartSignal[] {
  assertFinite("scanRunRules", values);
  return scan("scanRunRules", values, lines, compileRunRules(rules), null).signals;
}

/**
 * Signals and moving ranges of individuals in the same single pass.
 *
 * @param values - number[n], n >= 1, all finite, in the order of time
 * @param lines - as scanRunRules
 * @param rules - as scanRunRules
 * @returns signals as scanRunRules; movingRanges Float64Array[n - 1], |x_i - x_(i-1)|; their mean, 0 if n = 1
 * @throws CoreError too-few-values if n = 0, and as scanRunRules
 */
export function scanIndividuals(
  values: readonly number[] | Float64Array,
  lines: ChartLines,
  rules: readonly RunRule[],
): { signals: ChartSignal[]; movingRanges: Float64Array; meanMovingRange: number } {
  if (values.length === 0)
    throw new CoreError("too-few-values", "scanIndividuals: values must have at least 1 value; got 0");
  const movingRanges = new Float64Array(values.length);
  const { signals, travel } = scan("scanIndividuals", values, lines, compileRunRules(rules), movingRanges);
  // A value that is not finite makes the sum of all moving ranges so; only then is it looked for.
  if (!Number.isFinite(travel + values[0]!)) assertFinite("scanIndividuals", values);
  return {
    signals,
    movingRanges: movingRanges.subarray(1),
    meanMovingRange: values.length > 1 ? travel / (values.length - 1) : 0,
  };
}

function assertFinite(name: string, values: readonly number[] | Float64Array): void {
  for (let index = 0; index < values.length; index++) {
    if (!Number.isFinite(values[index]!)) {
      throw new CoreError("not-finite", `${name}: values must be finite; got ${values[index]} (at index ${index})`, {
        index,
      });
    }
  }
}

type Column = readonly (number | null)[] | Float64Array;

const isColumn = (line: LimitLine | undefined): line is Column => typeof line === "object" && line !== null;

function scan(
  name: string,
  values: ArrayLike<number>,
  lines: ChartLines,
  compiled: CompiledRunRules,
  movingRanges: Float64Array | null,
): { signals: ChartSignal[]; travel: number } {
  const n = values.length;
  const signals: ChartSignal[] = [];
  if (n === 0) return { signals, travel: 0 };
  const columns = [lines.centre, lines.sigma, lines.lower, lines.upper].filter(isColumn);
  for (const line of columns) {
    if (line.length !== n) {
      throw new CoreError("length-mismatch", `${name}: per-point lines must have ${n} entries; got ${line.length}`);
    }
  }
  const at = (line: LimitLine | undefined, index: number) => (isColumn(line) ? line[index]! : line);
  const point = pointLinesOf(compiled);
  const setLines = (index: number) =>
    setPointLines(
      point,
      compiled,
      at(lines.centre, index)!,
      at(lines.sigma, index) ?? null,
      at(lines.lower, index),
      at(lines.upper, index),
    );
  setLines(0);
  const fixed = columns.length === 0;
  const cells = fixed && n >= CELLS ? zoneCells(compiled, point) : null;
  const size = Math.min(n, BLOCK);
  // The first LEAD entries are the words of the points before the block.
  const bits = new Int32Array(LEAD + size);
  const directions = directionPass(compiled, values[0]!);
  const ranges = movingRanges ?? new Float64Array(size);
  const patterns = patternPass(compiled);
  for (let start = 0; start < n; start += size) {
    const count = Math.min(size, n - start);
    if (cells !== null) setBitsByCells(bits.subarray(LEAD), values, { start, count }, cells, compiled, point);
    else {
      for (let k = 0; k < count; k++) {
        if (!fixed) setLines(start + k);
        bits[LEAD + k] = bitsAt(compiled, point, values[start + k]!);
      }
    }
    addDirections(bits, values, start, count, directions, movingRanges === null ? ranges : ranges.subarray(start));
    addSignals(signals, bits, start, count, patterns);
    bits.copyWithin(0, count, count + LEAD);
  }
  return { signals, travel: directions.travel };
}

/** Points looked at together: the words of a block stay in the nearest cache. */
const BLOCK = 2048;
