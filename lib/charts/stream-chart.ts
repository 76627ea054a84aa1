import { formatFixed, formatUncertainty, withUnit, type DecimalSign } from "@/lib/format/number-text";
import { decimalsOfStep, niceStep, niceTicks, rangeOf, type Tick } from "./axis-ticks";
import {
  EMPTY_SPEC,
  type ChartBand,
  type ChartCallout,
  type ChartChangePoint,
  type ChartEvent,
  type ChartLevel,
  type ChartReach,
  type ChartRibbon,
  type ChartSeries,
  type ChartSpec,
} from "./chart-spec";

export type StreamChartInput = {
  /** Number of each frame in the stream, ascending. */
  readonly frame: readonly number[];
  readonly value: readonly number[];
  readonly serial: readonly string[];
  /** "mm", "µm" or "arc min", and the decimals in which levels are written. */
  readonly unit: string;
  readonly decimals: number;
  /** Limits of the drawing and the guard band inside and outside of them. */
  readonly lower: number | null;
  readonly upper: number | null;
  readonly guard: number;
  readonly centre: number | null;
  readonly lowerControl: number | null;
  readonly upperControl: number | null;
  readonly baseline: { readonly from: number; readonly to: number } | null;
  /** Indices of points that a rule or a chart signalled, with what it said. */
  readonly flagged: readonly { readonly index: number; readonly remark: string }[];
  readonly callouts?: readonly { readonly index: number; readonly text: string; readonly detail: string }[];
  readonly days?: readonly Tick[];
  readonly events?: readonly ChartEvent[];
  readonly changePoint?: ChartChangePoint | null;
  /** Pieces of the fitted course. */
  readonly fits?: readonly { readonly frame: readonly number[]; readonly value: readonly number[] }[];
  readonly forecast?: {
    readonly frame: readonly number[];
    readonly value: readonly number[];
    readonly lower: readonly number[];
    readonly upper: readonly number[];
    readonly reach: ChartReach | null;
  } | null;
  readonly now?: number | null;
  readonly decimal?: DecimalSign;
};

function levelsOf(input: StreamChartInput): readonly ChartLevel[] {
  const level = (value: number | null, name: string, weight: ChartLevel["weight"]): readonly ChartLevel[] =>
    value === null ? [] : [{ value, text: formatFixed(value, input.decimals, input.decimal), name, weight }];
  return [
    ...level(input.upper, "limit of size", "limit"),
    ...level(input.upperControl, "control limit", "control"),
    ...level(input.centre, "baseline mean", "mean"),
    ...level(input.lowerControl, "control limit", "control"),
    ...level(input.lower, "limit of size", "limit"),
  ].map((each) => (each.weight === "limit" && input.unit !== "mm" ? { ...each, name: "limit" } : each));
}

function bandsOf(input: StreamChartInput, low: number, high: number): readonly ChartBand[] {
  const bands: ChartBand[] = [];
  if (input.baseline) {
    const { from, to } = input.baseline;
    bands.push({
      kind: "baseline",
      fromX: from,
      toX: to,
      fromY: input.lowerControl ?? low,
      toY: input.upperControl ?? high,
      text: `baseline, frames ${from} to ${to}`,
    });
  }
  if (input.guard > 0) {
    const text = `not proven, U ${formatUncertainty(input.guard, input.unit, 1, input.decimal)}`;
    const shown =
      input.unit === "mm" ? `not proven, U ${formatUncertainty(input.guard * 1000, "µm", 1, input.decimal)}` : text;
    const zone = (limit: number, inwards: 1 | -1): readonly ChartBand[] => {
      const inner = limit + inwards * input.guard;
      const outer = limit - inwards * input.guard;
      const band = (one: number, other: number, words: string): ChartBand => ({
        kind: "not proven",
        fromX: null,
        toX: null,
        fromY: Math.min(one, other),
        toY: Math.max(one, other),
        text: words,
      });
      return [band(limit, inner, shown), band(limit, outer, "")];
    };
    if (input.lower !== null) bands.push(...zone(input.lower, 1));
    if (input.upper !== null) bands.push(...zone(input.upper, -1));
  }
  return bands;
}

/** The elements at the given places; a place that is not there is left out. */
function pickAt<T>(from: readonly T[], indices: readonly number[]): readonly T[] {
  return indices.map((index) => from[index]).filter((each) => each !== undefined);
}

/** Places of values outside the limits of the drawing. */
function beyondOf({ value, lower, upper }: StreamChartInput): readonly number[] {
  return value.flatMap((one, index) => (one > (upper ?? Infinity) || one < (lower ?? -Infinity) ? [index] : []));
}

function seriesOf(input: StreamChartInput): readonly ChartSeries[] {
  const remarks = new Map(input.flagged.map((flag) => [flag.index, flag.remark]));
  const indices = [...remarks.keys()].filter((index) => input.frame[index] !== undefined).sort((a, b) => a - b);
  return [
    {
      name: "frames",
      draw: "line and points",
      tone: "ink-2",
      x: input.frame,
      y: input.value,
      labels: input.serial,
      remarks: input.frame.map((_, index) => remarks.get(index) ?? ""),
      tabled: true,
      beyond: beyondOf(input),
    },
    ...(input.fits ?? []).map((fit): ChartSeries => ({
      name: "fitted course",
      draw: "line",
      tone: "blue",
      x: fit.frame,
      y: fit.value,
    })),
    ...(input.forecast
      ? [{ name: "forecast", draw: "dashed", tone: "blue", x: input.forecast.frame, y: input.forecast.value } as const]
      : []),
    {
      name: "signalled",
      draw: "points",
      tone: "signal",
      x: pickAt(input.frame, indices),
      y: pickAt(input.value, indices),
      labels: pickAt(input.serial, indices),
      remarks: indices.map((index) => remarks.get(index) ?? ""),
      flagged: true,
    },
  ];
}

/** Ticks of the frame axis: round numbers of frames. */
export function frameTicks(from: number, to: number): readonly Tick[] {
  return niceTicks(from, to, 8)
    .filter((at) => Number.isInteger(at) && at > from)
    .map((at) => ({ at, text: String(at) }));
}

/** Ticks of a measured axis, with as many decimals as their step needs. */
export function valueTicks(min: number, max: number, decimal: DecimalSign = "."): readonly Tick[] {
  const digits = decimalsOfStep(niceStep(max - min, 8));
  return niceTicks(min, max, 8).map((at) => ({ at, text: formatFixed(at, digits, decimal) }));
}

/** One stream over its frames: points against limits, signals, events, the change point and the forecast. */
export function streamChart(input: StreamChartInput): ChartSpec {
  const levels = levelsOf(input);
  const forecast = input.forecast ?? null;
  const first = input.frame[0] ?? 0;
  const last = Math.max(input.frame.at(-1) ?? 1, forecast?.frame.at(-1) ?? 0);
  const span = Math.max(1, last - first);
  const zones = [
    ...(input.lower === null ? [] : [input.lower - input.guard]),
    ...(input.upper === null ? [] : [input.upper + input.guard]),
  ];
  const { min, max } = rangeOf([...input.value, ...levels.map((level) => level.value), ...zones], 0.05);
  const callouts: ChartCallout[] = (input.callouts ?? []).flatMap(({ index, text, detail }) => {
    const x = input.frame[index];
    const y = input.value[index];
    return x === undefined || y === undefined ? [] : [{ x, y, text, detail }];
  });
  const ribbons: ChartRibbon[] = forecast ? [{ x: forecast.frame, lower: forecast.lower, upper: forecast.upper }] : [];
  return {
    ...EMPTY_SPEC,
    xMin: first - span * 0.004,
    xMax: last + span * 0.004,
    xTicks: frameTicks(first, last),
    xMarks: input.days ?? [],
    yMin: min,
    yMax: max,
    yTicks: valueTicks(min, max, input.decimal),
    series: seriesOf(input),
    levels,
    bands: bandsOf(input, min, max),
    ribbons,
    events: input.events ?? [],
    changePoint: input.changePoint ?? null,
    callouts,
    reach: forecast?.reach ?? null,
    now: input.now ?? null,
    yUnit: input.unit,
    yDecimals: input.decimals,
  };
}

export type SpreadChartInput = {
  readonly frame: readonly number[];
  readonly value: readonly number[];
  readonly serial: readonly string[];
  readonly unit: string;
  readonly decimals: number;
  readonly upperControl: number | null;
  readonly centre: number | null;
  readonly flagged?: readonly { readonly index: number; readonly remark: string }[];
  /** Last frame of the chart above, so that both share their axis. */
  readonly lastFrame?: number;
  readonly decimal?: DecimalSign;
};

/** Moving range, range or standard deviation under the chart of the means: same frames, zero at the bottom. */
export function spreadChart(input: SpreadChartInput): ChartSpec {
  const spec = streamChart({
    ...input,
    lower: null,
    upper: null,
    guard: 0,
    lowerControl: null,
    baseline: null,
    flagged: input.flagged ?? [],
    forecast: null,
  });
  const max = rangeOf([0, ...input.value, input.upperControl ?? 0], 0).max * 1.12;
  const first = input.frame[0] ?? 0;
  const last = input.lastFrame ?? input.frame.at(-1) ?? 1;
  return {
    ...spec,
    xMin: first - Math.max(1, last - first) * 0.004,
    xMax: last + Math.max(1, last - first) * 0.004,
    xTicks: [],
    yMin: 0,
    yMax: max,
    yTicks: niceTicks(0, max, 3).map((at) => ({
      at,
      text: formatFixed(at, decimalsOfStep(niceStep(max, 3)), input.decimal),
    })),
    levels: spec.levels.map((level) => ({
      ...level,
      text: withUnit(level.text, input.unit),
      name: level.weight === "mean" ? "mean" : level.name,
    })),
  };
}
