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
 * Method: one word a point with a bit for each check; run lengths of all checks are counted at once in bit-sliced
 *   counters, so that all rules together cost a few dozen operations a point.
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
  const directions: DirectionPass = {
    bits: directionBits(compiled),
    signHalf: signWordIndex(),
    previous: values[0]!,
    before: 0,
    travel: 0,
  };
  const ranges = movingRanges ?? new Float64Array(size);
  const patterns = patternPass(compiled);
  for (let start = 0; start < n; start += size) {
    const count = Math.min(size, n - start);
    if (cells !== null) setBitsByCells(bits, values, start, count, cells, compiled, point);
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
/** Points before a block whose words are kept; a pattern has at most 31. */
const LEAD = 32;

/** Zone and limit bits of a block by the table of cells; only points near a line are compared. */
function setBitsByCells(
  bits: Int32Array,
  values: ArrayLike<number>,
  start: number,
  count: number,
  { cellBits, origin, scale }: ZoneCells,
  compiled: CompiledRunRules,
  point: PointLines,
): void {
  for (let k = 0; k < count; k++) {
    const x = values[start + k]!;
    const place = (x - origin) * scale;
    const found = cellBits[place < 0 ? 0 : place < CELLS ? place | 0 : CELLS - 1]!;
    bits[LEAD + k] = found === UNDECIDED ? bitsAt(compiled, point, x) : found;
  }
}

type DirectionPass = { bits: Int32Array; signHalf: 0 | 1; previous: number; before: number; travel: number };

/** Adds the bits of rises, falls and turns to a block, sets its moving ranges and adds them to the distance travelled. */
function addDirections(
  bits: Int32Array,
  values: ArrayLike<number>,
  start: number,
  count: number,
  pass: DirectionPass,
  ranges: Float64Array,
): void {
  const byDirection = pass.bits;
  const signHalf = pass.signHalf;
  const word = new Float64Array(1);
  const halves = new Int32Array(word.buffer);
  let { previous, before, travel } = pass;
  for (let k = 0; k < count; k++) {
    const x = values[start + k]!;
    const difference = x - previous;
    previous = x;
    const range = Math.abs(difference);
    ranges[k] = range;
    travel += range;
    if (difference === 0) before = 0;
    else {
      // The sign bit, read without a branch: rises and falls are as good as random.
      word[0] = difference;
      const fall = halves[signHalf]! >>> 31;
      bits[LEAD + k] = bits[LEAD + k]! | byDirection[fall * 3 + before]!;
      before = 1 + fall;
    }
  }
  pass.previous = previous;
  pass.before = before;
  pass.travel = travel;
}

/**
 * Length of the current run of every check at once: bit c of counter j is bit j of the count of check c. A run starts at
 * 32 less its length, so that it is complete where the count overflows.
 */
type PatternPass = {
  compiled: CompiledRunRules;
  runMask: number;
  countMask: number;
  starts: readonly number[];
  counters: number[];
  complete: number;
};

function patternPass(compiled: CompiledRunRules): PatternPass {
  const starts = [0, 0, 0, 0, 0];
  let runMask = 0;
  let countMask = 0;
  compiled.checks.forEach(({ need, span }, c) => {
    if (need < span && need > 1) {
      countMask |= 1 << c;
      return;
    }
    runMask |= 1 << c;
    starts.forEach((_, j) => {
      starts[j] = starts[j]! | ((((32 - need) >>> j) & 1) << c);
    });
  });
  return { compiled, runMask, countMask, starts, counters: [...starts], complete: 0 };
}

/** Signals of a block whose words are set. */
function addSignals(signals: ChartSignal[], bits: Int32Array, start: number, count: number, pass: PatternPass): void {
  const { compiled, runMask, countMask } = pass;
  const [s0, s1, s2, s3, s4] = pass.starts as [number, number, number, number, number];
  let [c0, c1, c2, c3, c4] = pass.counters as [number, number, number, number, number];
  let { complete } = pass;
  for (let k = 0; k < count; k++) {
    const word = bits[LEAD + k]!;
    const ended = ~word;
    let carry = word & runMask;
    let sum = c0 ^ carry;
    carry &= c0;
    c0 = (sum & word) | (s0 & ended);
    sum = c1 ^ carry;
    carry &= c1;
    c1 = (sum & word) | (s1 & ended);
    sum = c2 ^ carry;
    carry &= c2;
    c2 = (sum & word) | (s2 & ended);
    sum = c3 ^ carry;
    carry &= c3;
    c3 = (sum & word) | (s3 & ended);
    sum = c4 ^ carry;
    carry &= c4;
    c4 = (sum & word) | (s4 & ended);
    complete = (complete | carry) & word;
    let hits = complete;
    if ((word & countMask) !== 0) hits |= countedChecks(compiled, bits, k, word & countMask);
    if (hits !== 0) addSignalsAt(signals, compiled, bits, start + k, k, hits);
  }
  pass.counters = [c0, c1, c2, c3, c4];
  pass.complete = complete;
}

/** Of the counting checks that the newest point belongs to, those that have enough points in their window. */
function countedChecks({ checks }: CompiledRunRules, bits: Int32Array, k: number, candidates: number): number {
  let reached = 0;
  for (let pending = candidates; pending !== 0; pending &= pending - 1) {
    const c = 31 - Math.clz32(pending & -pending);
    const { need, span } = checks[c]!;
    let misses = span - need;
    for (let back = 1; back < span && misses >= 0; back++) misses -= 1 - ((bits[LEAD + k - back]! >>> c) & 1);
    if (misses >= 0) reached |= 1 << c;
  }
  return reached;
}

/** Cells of the table that finds a point's zone without comparing it with every line. */
const CELLS = 2048;
/** Mark of a cell that holds, or touches, a line: the point is compared. */
const UNDECIDED = -1;
type ZoneCells = Readonly<{ cellBits: Int32Array; origin: number; scale: number }>;
/** Cells are used only while rounding of a value stays far below their width. */
const FINEST_CELL = 2 ** -36;

/** Zone and limit bits of a value by comparison with the lines. */
function bitsAt(compiled: CompiledRunRules, { above, below, upper, lower }: PointLines, x: number): number {
  const lineCount = above.length;
  let zone = 0;
  while (zone < lineCount && x > above[zone]!) zone++;
  if (zone === 0) {
    while (zone < lineCount && x < below[zone]!) zone++;
    if (zone > 0) zone += lineCount;
  }
  let bits = compiled.zoneBits[zone]!;
  if (x > upper) bits |= compiled.upperLimitBits;
  if (x < lower) bits |= compiled.lowerLimitBits;
  return bits;
}

/** Bits by equal cells over the range of the lines, or null where the lines are too close for it. */
function zoneCells(compiled: CompiledRunRules, point: PointLines): ZoneCells | null {
  const lines = [...point.above, ...point.below, point.upper, point.lower].filter(Number.isFinite);
  if (lines.length === 0) return null;
  const smallest = Math.min(...lines);
  const largest = Math.max(...lines);
  const margin = largest > smallest ? (largest - smallest) / 64 : Math.max(1, Math.abs(largest));
  const origin = smallest - margin;
  const width = (largest + margin - origin) / CELLS;
  if (!(width > FINEST_CELL * Math.max(Math.abs(smallest), Math.abs(largest)))) return null;
  const cellBits = Int32Array.from({ length: CELLS }, (_, cell) =>
    bitsAt(compiled, point, origin + (cell + 0.5) * width),
  );
  for (const line of lines) {
    const cell = Math.floor((line - origin) / width);
    for (let near = cell - 1; near <= cell + 1; near++) cellBits[near] = UNDECIDED;
  }
  return { cellBits, origin, scale: 1 / width };
}

/** Bits of a difference by its sign (fall 1) and the one before it (0 none, 1 rise, 2 fall), at fall * 3 + before. */
function directionBits({ risingBits, fallingBits, turningBits }: CompiledRunRules): Int32Array {
  return Int32Array.of(
    risingBits,
    risingBits,
    risingBits | turningBits,
    fallingBits,
    fallingBits | turningBits,
    fallingBits,
  );
}

/** Index of the half of a 64-bit number that holds its sign, by the machine's byte order. */
function signWordIndex(): 0 | 1 {
  return new Int32Array(Float64Array.of(-1).buffer)[1]! < 0 ? 1 : 0;
}

function addSignalsAt(
  signals: ChartSignal[],
  compiled: CompiledRunRules,
  bits: Int32Array,
  index: number,
  k: number,
  hits: number,
): void {
  for (let pending = hits; pending !== 0; pending &= pending - 1) {
    const c = 31 - Math.clz32(pending & -pending);
    const { need, span } = compiled.checks[c]!;
    let history = need === span ? (1 << span) - 1 : 0;
    if (need < span) {
      for (let back = span - 1; back >= 0; back--) history = (history << 1) | ((bits[LEAD + k - back]! >>> c) & 1);
    }
    signals.push(signalAt(compiled, c, history, index));
  }
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
