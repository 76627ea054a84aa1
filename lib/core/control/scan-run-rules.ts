import { CoreError } from "../errors";
import type { ChartSignal } from "./chart-result";
import { compileRunRules, setBitCount, type CompiledRunRules } from "./compile-run-rules";
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
 * Method: one history word of bits a check, shifted once a point; no window is looked at twice.
 * Accuracy: equal to a window-by-window version, tests/core/control/scan-run-rules.test.ts
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
  return scan("scanRunRules", values, lines, compileRunRules(rules), null);
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
  assertFinite("scanIndividuals", values);
  const movingRanges = new Float64Array(values.length - 1);
  const signals = scan("scanIndividuals", values, lines, compileRunRules(rules), movingRanges);
  let sum = 0;
  for (const range of movingRanges) sum += range;
  return { signals, movingRanges, meanMovingRange: values.length > 1 ? sum / movingRanges.length : 0 };
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

/** Limits and zone lines at one point, from the lines given; shared with the incremental form. */
export type PointLines = { upper: number; lower: number; above: Float64Array; below: Float64Array };

export function pointLinesOf(compiled: CompiledRunRules): PointLines {
  const count = compiled.distances.length;
  return { upper: Infinity, lower: -Infinity, above: new Float64Array(count), below: new Float64Array(count) };
}

export function setPointLines(
  target: PointLines,
  compiled: CompiledRunRules,
  centre: number,
  sigma: number | null,
  lower: number | null | undefined,
  upper: number | null | undefined,
): void {
  const { distances } = compiled;
  if (!Number.isFinite(centre) || (sigma !== null && !(sigma > 0 && sigma < Infinity))) {
    throw new CoreError("out-of-range", `run rules: centre must be finite and sigma > 0; got ${centre} and ${sigma}`, {
      centre,
      sigma,
    });
  }
  if (sigma === null && distances.some((distance) => distance > 0)) {
    throw new CoreError("invalid-argument", "run rules: sigma must be given for zone tests; got null");
  }
  const spread = sigma ?? 0;
  for (let j = 0; j < distances.length; j++) {
    target.above[j] = centre + distances[j]! * spread;
    target.below[j] = centre - distances[j]! * spread;
  }
  const missing = (side: "lower" | "upper") => {
    if (sigma !== null) return side === "upper" ? centre + 3 * sigma : centre - 3 * sigma;
    throw new CoreError("invalid-argument", `run rules: ${side} must be given (or null) where sigma is null`);
  };
  target.upper = upper === null ? Infinity : (upper ?? missing("upper"));
  target.lower = lower === null ? -Infinity : (lower ?? missing("lower"));
  if (!(target.lower <= target.upper)) {
    throw new CoreError(
      "out-of-range",
      `run rules: lower limit must not be above the upper; got ${target.lower} and ${target.upper}`,
      { lower: target.lower, upper: target.upper },
    );
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
): ChartSignal[] {
  const n = values.length;
  const at = (line: LimitLine | undefined, index: number) => (isColumn(line) ? line[index]! : line);
  const columns = [lines.centre, lines.sigma, lines.lower, lines.upper].filter(isColumn);
  for (const column of columns) {
    if (column.length !== n) {
      throw new CoreError("length-mismatch", `${name}: per-point lines must have ${n} entries; got ${column.length}`);
    }
  }
  const fixed = columns.length === 0;
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
  if (n > 0) setLines(0);

  const { upperLimitBits, lowerLimitBits, risingBits, fallingBits, turningBits, checks } = compiled;
  const zoneBits = Int32Array.from(compiled.zoneBits);
  const lineCount = compiled.distances.length;
  const { above, below } = point;
  const checkCount = checks.length;
  const histories = new Int32Array(checkCount);
  const spans = Int32Array.from(checks, (check) => (1 << check.span) - 1);
  // A run asks for every bit of its span; k of m asks for the newest bit first, then counts.
  const masks = Int32Array.from(checks, (check, c) => (check.need === check.span ? spans[c]! : 1));
  const needs = Int32Array.from(checks, (check) => (check.need === check.span ? 0 : check.need));
  const signals: ChartSignal[] = [];
  let { upper, lower } = point;
  let previous = n > 0 ? values[0]! : 0;
  let direction = 0;

  for (let i = 0; i < n; i++) {
    const x = values[i]!;
    if (!fixed && i > 0) {
      setLines(i);
      ({ upper, lower } = point);
    }
    let zone = 0;
    while (zone < lineCount && x > above[zone]!) zone++;
    if (zone === 0 && lineCount > 0 && x < below[0]!) {
      zone = 1;
      while (zone < lineCount && x < below[zone]!) zone++;
      zone += lineCount;
    }
    let bits = zoneBits[zone]!;
    if (x > upper) bits |= upperLimitBits;
    else if (x < lower) bits |= lowerLimitBits;
    if (i > 0) {
      const difference = x - previous;
      if (difference > 0) {
        bits |= direction < 0 ? risingBits | turningBits : risingBits;
        direction = 1;
      } else if (difference < 0) {
        bits |= direction > 0 ? fallingBits | turningBits : fallingBits;
        direction = -1;
      } else direction = 0;
      if (movingRanges !== null) movingRanges[i - 1] = difference < 0 ? -difference : difference;
      previous = x;
    }
    for (let c = 0; c < checkCount; c++) {
      const history = (histories[c]! << 1) | ((bits >>> c) & 1);
      histories[c] = history;
      const mask = masks[c]!;
      if ((history & mask) === mask && (needs[c] === 0 || setBitCount(history & spans[c]!) >= needs[c]!)) {
        signals.push(signalAt(compiled, c, history, i));
      }
    }
  }
  return signals;
}

/** The signal of check `c` at point `index`: the points of the pattern are the set bits of its history. */
export function signalAt(compiled: CompiledRunRules, c: number, history: number, index: number): ChartSignal {
  const { rule, side, span, lead } = compiled.checks[c]!;
  const points: number[] = [];
  for (let back = span - 1 + lead; back >= 0; back--) {
    if (back >= span || (history >>> back) & 1) points.push(index - back);
  }
  return { index, rule, side, points };
}
