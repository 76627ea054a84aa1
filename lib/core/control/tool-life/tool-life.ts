import { CoreError, type Estimate } from "../../errors";
import { assertAllFinite, checkedExclusions } from "../charts/chart-signals";
import { isRoundingNoise, standardDeviation } from "../charts/point-statistics";
import {
  autocorrelatedLine,
  frameSpread,
  lineSpread,
  slopeSpread,
  spreadCdf,
  spreadCentre,
  spreadQuantile,
  type AutocorrelatedLine,
} from "./tool-life-regression";

/** Values of one tool from which a trend is computed. Common practice, no source. */
export const FEWEST_TOOL_FRAMES = 10;
/** Frames ahead that are looked at. */
const HORIZON = 100_000;
/** Points of the bound that are given for drawing. */
const BOUND_POINTS = 11;

export type ToolLifeInput = Readonly<{
  /** Seat's mean (or another size), one a frame, in the order of time. */
  values: readonly number[];
  /** Indices of the first value of each new tool, ascending. */
  toolChanges: readonly number[];
  /** Limits narrowed by the guard band, in the values' unit; null where there is none. */
  limits: Readonly<{ lower: number | null; upper: number | null }>;
  /** Count of frames machined at each value, increasing; 0, 1, 2 ... by default (every frame is measured). */
  frameCounts?: readonly number[];
  /** Of the intervals (two-sided) and of the prediction bound (one-sided), in (0.5, 1); 0.95 by default. */
  confidence?: number;
  /** Indices left out: frames with an assigned cause. */
  excluded?: readonly number[];
}>;

/** Trend of one tool; slopes per frame. */
export type ToolTrend = Readonly<{
  slope: number;
  slopeInterval: readonly [number, number];
  /** Whether the interval of the slope excludes 0. */
  drifts: boolean;
  /** The line at the tool's first and last value. */
  start: number;
  now: number;
  /** Standard deviation about the line. */
  residualSd: number;
  /** Correlation of neighbouring frames' residuals. */
  autocorrelation: number;
}>;

export type ToolStretch = Readonly<{
  /** First and last index. */
  first: number;
  last: number;
  /** Values that count. */
  values: number;
  trend: Estimate<ToolTrend>;
}>;

/** Frames after the newest one until the line, and until the bound of a single frame, meets the guarded limit. */
export type FramesLeft = Readonly<{
  limit: "lower" | "upper";
  limitValue: number;
  /** Until the line meets the limit: median. */
  estimate: number;
  /** Of the same; the upper end is null where the data do not exclude that it never does (within 100,000 frames). */
  interval: readonly [number, number | null];
  /** Frames that can still be made before the prediction bound of one frame meets the limit; null beyond 100,000. */
  untilBound: number | null;
  confidence: number;
  /** The prediction bound of a single frame towards the limit, for drawing. */
  bound: readonly Readonly<{ framesAhead: number; line: number; bound: number }>[];
}>;

export type ToolLife = Readonly<{
  /** Every tool in the order of time; the last is the one in use. */
  tools: readonly ToolStretch[];
  framesLeft: Estimate<FramesLeft>;
}>;

/**
 * Tool life: how a size drifts with each tool, and how many frames the one in use has left.
 * Formula: per tool y = a + b x + e with x frames since the change and corr(e_i, e_j) = rho^|x_i - x_j|.
 *
 * @param input - see ToolLifeInput
 * @returns a trend or a reason for each tool (fewer than 10 values, no variation), and the frames left or the reason why
 *   there is no number (no tool long enough, no limit, no drift towards a limit)
 * @throws CoreError not-finite, out-of-range for changes, exclusions, limits reversed or confidence, length-mismatch
 * Method: generalised least squares averaged over the unknown autocorrelation (tool-life-regression.ts). Interval of the
 *   crossing: the positions at which the line's confidence band holds the limit (Fieller). untilBound: the last frame for
 *   which the one-sided prediction bound still lies inside the limit.
 * Accuracy: coverage of the slope's and the crossing's interval measured in tests/core/control/tool-life/tool-life.test.ts: 94 to 98 %
 *   for 60 frames, nominal 95 %, autocorrelation 0 to 0.6
 * Edge cases: a tool change at every frame, one value, all equal -> a reason; a limit already met -> 0 frames
 * Source: Fieller 1954, Journal of the Royal Statistical Society B 16 175-185; Draper and Smith, Applied Regression
 *   Analysis, 3rd ed., 3.2 (inverse regression)
 */
export function toolLife(input: ToolLifeInput): ToolLife {
  const { values, confidence = 0.95 } = input;
  const { counts, excluded } = checkedInput(input);
  if (values.length === 0) return { tools: [], framesLeft: { ok: false, reason: "There is no value yet." } };
  const starts = [...new Set([0, ...input.toolChanges])].sort((a, b) => a - b);
  const leftOut = new Set(excluded);
  const fits = starts.map((first, tool) => {
    const last = (starts[tool + 1] ?? values.length) - 1;
    const kept: number[] = [];
    for (let index = first; index <= last; index++) if (!leftOut.has(index)) kept.push(index);
    const line = lineOf(
      kept.map((index) => counts[index]!),
      kept.map((index) => values[index]!),
    );
    const trend: Estimate<ToolTrend> = line.ok
      ? { ok: true, value: trendOf(line.value, counts[first]!, confidence), warnings: [] }
      : line;
    return { stretch: { first, last, values: kept.length, trend }, line };
  });
  const tools = fits.map(({ stretch }) => stretch);
  const current = fits[fits.length - 1]!;
  if (!current.line.ok) return { tools, framesLeft: { ok: false, reason: noTrendReason(tools) } };
  return { tools, framesLeft: framesLeft(current.line.value, counts[values.length - 1]!, input, confidence) };
}

function lineOf(positions: readonly number[], values: readonly number[]): Estimate<AutocorrelatedLine> {
  const n = values.length;
  if (n < FEWEST_TOOL_FRAMES) {
    const counted = n === 1 ? "1 frame" : `${n} frames`;
    return {
      ok: false,
      reason: `${counted} since the tool change: a trend needs at least ${FEWEST_TOOL_FRAMES}.`,
    };
  }
  if (isRoundingNoise(standardDeviation(values), values)) {
    return {
      ok: false,
      reason: "All values since the tool change are equal: the gauge does not resolve the variation.",
    };
  }
  const line = autocorrelatedLine(positions, values);
  if (line.candidates.some(({ sigma }) => isRoundingNoise(sigma, values))) {
    return { ok: false, reason: "The values since the tool change lie on one line exactly: they are no measurements." };
  }
  return { ok: true, value: line, warnings: [] };
}

function noTrendReason(tools: readonly ToolStretch[]): string {
  const current = tools[tools.length - 1]!;
  const longest = Math.max(...tools.map(({ values }) => values));
  if (tools.length > 2 && longest <= 1) return "The tool changes at every frame: no tool has a life to follow.";
  const reason = current.trend.ok ? "" : current.trend.reason;
  return tools.length > 1 && longest < FEWEST_TOOL_FRAMES
    ? `${reason} No tool before it was followed for that long either.`
    : reason;
}

function trendOf(line: AutocorrelatedLine, firstPosition: number, confidence: number): ToolTrend {
  const df = line.degreesOfFreedom;
  const tail = (1 - confidence) / 2;
  const slopes = slopeSpread(line);
  const slopeInterval = [spreadQuantile(slopes, tail, df), spreadQuantile(slopes, 1 - tail, df)] as const;
  const averaged = (of: (index: number) => number) =>
    line.candidates.reduce((sum, { weight }, index) => sum + weight * of(index), 0);
  return {
    slope: averaged((index) => line.candidates[index]!.slope),
    slopeInterval,
    drifts: slopeInterval[0] > 0 || slopeInterval[1] < 0,
    start: spreadCentre(lineSpread(line, firstPosition)),
    now: spreadCentre(lineSpread(line, line.lastPosition)),
    residualSd: Math.sqrt(averaged((index) => line.candidates[index]!.sigma ** 2)),
    autocorrelation: averaged((index) => line.candidates[index]!.rho),
  };
}

function framesLeft(
  line: AutocorrelatedLine,
  now: number,
  { limits }: ToolLifeInput,
  confidence: number,
): Estimate<FramesLeft> {
  const df = line.degreesOfFreedom;
  if (limits.lower === null && limits.upper === null) {
    return { ok: false, reason: "There is no limit that the tool could reach." };
  }
  const falling = spreadCdf(slopeSpread(line), 0, df) > 0.5;
  const side = falling ? "lower" : "upper";
  const limitValue = limits[side];
  if (limitValue === null) {
    const where = falling ? "falls, and there is no lower limit" : "rises, and there is no upper limit";
    return { ok: false, reason: `The size ${where} to reach.` };
  }
  /** Probability that a quantity lies at or beyond the limit. */
  const beyond = (spreads: ReturnType<typeof slopeSpread>) => {
    const below = spreadCdf(spreads, limitValue, df);
    return falling ? below : 1 - below;
  };
  const lineBeyond = (ahead: number) => beyond(lineSpread(line, now + ahead));
  const tail = (1 - confidence) / 2;
  const estimate = firstAhead(lineBeyond, 0.5);
  if (estimate === null) {
    return {
      ok: false,
      reason: `The size does not drift towards the ${side} limit in a way that would reach it within 100,000 frames.`,
    };
  }
  const frameBeyond = (ahead: number) => beyond(frameSpread(line, now + ahead));
  const untilBound = framesInside(frameBeyond, 1 - confidence);
  const reach = Math.max(10, Math.ceil(1.2 * Math.min(untilBound ?? HORIZON, estimate)));
  const boundProbability = falling ? 1 - confidence : confidence;
  const bound = Array.from({ length: BOUND_POINTS }, (_, step) => {
    const framesAhead = Math.max(1, Math.round((step * reach) / (BOUND_POINTS - 1)));
    return {
      framesAhead,
      line: spreadCentre(lineSpread(line, now + framesAhead)),
      bound: spreadQuantile(frameSpread(line, now + framesAhead), boundProbability, df),
    };
  });
  return {
    ok: true,
    value: {
      limit: side,
      limitValue,
      estimate,
      interval: [firstAhead(lineBeyond, tail) ?? 0, firstAhead(lineBeyond, 1 - tail)],
      untilBound,
      confidence,
      bound,
    },
    warnings: [],
  };
}

/** Smallest distance ahead, 0 or more, at which the probability is reached; null beyond the horizon. */
function firstAhead(probabilityAt: (ahead: number) => number, probability: number): number | null {
  if (probabilityAt(0) >= probability) return 0;
  let low = 0;
  let high = 1;
  while (probabilityAt(high) < probability) {
    low = high;
    high *= 2;
    if (high > HORIZON) return null;
  }
  // to a thousandth of a frame or of the distance
  while (high - low > 1e-3 * Math.max(1, low)) {
    const middle = (low + high) / 2;
    if (probabilityAt(middle) < probability) low = middle;
    else high = middle;
  }
  return high;
}

/** Whole frames for which the risk of a frame beyond the limit stays below `risk`; null beyond the horizon. */
function framesInside(riskAt: (ahead: number) => number, risk: number): number | null {
  // The first frames one by one: what is left of the last residual can make the risk fall before it grows.
  for (let ahead = 1; ahead <= 32; ahead++) if (riskAt(ahead) > risk) return ahead - 1;
  let low = 32;
  let high = 64;
  while (riskAt(high) <= risk) {
    low = high;
    high *= 2;
    if (high > HORIZON) return null;
  }
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (riskAt(middle) <= risk) low = middle;
    else high = middle;
  }
  return low;
}

function checkedInput({ values, toolChanges, limits, frameCounts, confidence = 0.95, excluded }: ToolLifeInput) {
  const name = "toolLife";
  assertAllFinite(name, values);
  const refuse = (rule: string, got: unknown): never => {
    throw new CoreError("out-of-range", `${name}: ${rule}; got ${String(got)}`, { got });
  };
  for (const change of toolChanges) {
    if (!Number.isInteger(change) || change < 0 || change >= values.length) {
      refuse(`toolChanges must be indices from 0 to ${values.length - 1}`, change);
    }
  }
  if (!(confidence > 0.5 && confidence < 1)) refuse("confidence must be above 0.5 and below 1", confidence);
  for (const limit of [limits.lower, limits.upper]) {
    if (limit !== null && !Number.isFinite(limit)) refuse("limits must be finite or null", limit);
  }
  if (limits.lower !== null && limits.upper !== null && !(limits.lower < limits.upper)) {
    refuse("limits.lower must be below limits.upper", `${limits.lower} and ${limits.upper}`);
  }
  const counts = frameCounts ?? values.map((_, index) => index);
  if (counts.length !== values.length) {
    throw new CoreError(
      "length-mismatch",
      `${name}: frameCounts must have ${values.length} entries; got ${counts.length}`,
    );
  }
  counts.forEach((count, index) => {
    if (!Number.isFinite(count) || (index > 0 && !(count > counts[index - 1]!))) {
      refuse(`frameCounts must be finite and increase (at index ${index})`, count);
    }
  });
  return { counts, excluded: checkedExclusions(name, excluded, values.length) };
}
