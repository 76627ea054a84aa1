import type { ChartSignal } from "./chart-signal";
import type { CompiledRunRules } from "./compile-run-rules";

/** Points before a block whose words are kept; a pattern has at most 31. */
export const LEAD = 32;

/** Where the pass over differences stands between two blocks. */
export type DirectionPass = { bits: Int32Array; signHalf: 0 | 1; previous: number; before: number; travel: number };

/** Adds the bits of rises, falls and turns to a block, sets its moving ranges and adds them to the distance travelled. */
export function addDirections(
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

/** The pass over differences before the first value. */
export function directionPass(compiled: CompiledRunRules, first: number): DirectionPass {
  return { bits: directionBits(compiled), signHalf: signWordIndex(), previous: first, before: 0, travel: 0 };
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

/**
 * Length of the current run of every check at once: bit c of counter j is bit j of the count of check c. A run starts at
 * 32 less its length, so that it is complete where the count overflows.
 */
export type PatternPass = {
  compiled: CompiledRunRules;
  runMask: number;
  countMask: number;
  starts: readonly number[];
  counters: number[];
  complete: number;
};

/** The pass over patterns before the first point. */
export function patternPass(compiled: CompiledRunRules): PatternPass {
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
export function addSignals(
  signals: ChartSignal[],
  bits: Int32Array,
  start: number,
  count: number,
  pass: PatternPass,
): void {
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
