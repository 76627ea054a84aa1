import { formatFixed, type DecimalSign } from "@/lib/format/number-text";
import { rangeOf } from "./axis-ticks";
import { EMPTY_SPEC, type ChartSeries, type ChartSpec } from "./chart-spec";
import { valueTicks } from "./stream-chart";

export type HistogramInput = {
  /** Edges of the bins, ascending, one more than counts. */
  readonly edges: readonly number[];
  readonly counts: readonly number[];
  /** A later stretch, drawn as an outline over the first. */
  readonly laterCounts?: readonly number[];
  /** Fitted density scaled to counts. */
  readonly curve?: { readonly value: readonly number[]; readonly count: readonly number[] } | null;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly unit: string;
  readonly decimals: number;
  readonly decimal?: DecimalSign;
};

function outline(edges: readonly number[], counts: readonly number[]): Pick<ChartSeries, "x" | "y"> {
  const x: number[] = [];
  const y: number[] = [];
  counts.forEach((count, index) => {
    const left = edges[index];
    const right = edges[index + 1];
    if (left === undefined || right === undefined) return;
    if (index === 0) {
      x.push(left);
      y.push(0);
    }
    x.push(left, right);
    y.push(count, count);
    if (index === counts.length - 1) {
      x.push(right);
      y.push(0);
    }
  });
  return { x, y };
}

/** Frames by value: the baseline as bars, later frames as an outline, the fitted curve, and the limits as uprights. */
export function histogramChart(input: HistogramInput): ChartSpec {
  const { edges, counts, lower, upper } = input;
  const limits = [lower, upper].filter((limit) => limit !== null);
  const { min, max } = rangeOf([...edges, ...limits], 0.04);
  const middles = counts.map((_, index) => ((edges[index] ?? 0) + (edges[index + 1] ?? 0)) / 2);
  const most = Math.max(1, ...counts, ...(input.laterCounts ?? []), ...(input.curve?.count ?? []));
  return {
    ...EMPTY_SPEC,
    xMin: min,
    xMax: max,
    xTicks: limits.length > 0 ? [] : valueTicks(min, max, input.decimal),
    yMin: 0,
    yMax: most * 1.08,
    series: [
      { name: "baseline", draw: "bars", tone: "muted", x: middles, y: counts, tabled: true },
      ...(input.laterCounts
        ? [{ name: "since then", draw: "outline", tone: "ink", ...outline(edges, input.laterCounts) } as const]
        : []),
      ...(input.curve
        ? [{ name: "fitted curve", draw: "line", tone: "blue", x: input.curve.value, y: input.curve.count } as const]
        : []),
    ],
    uprights: limits.map((at) => ({ at, text: formatFixed(at, input.decimals, input.decimal) })),
    xName: `value, ${input.unit}`,
    yUnit: "frames",
    yDecimals: 0,
  };
}

export type ProbabilityPlotInput = {
  /** Values in ascending order and the quantile of the fitted distribution that belongs to each. */
  readonly value: readonly number[];
  readonly quantile: readonly number[];
  readonly serial: readonly string[];
  readonly unit: string;
  readonly decimals: number;
  readonly decimal?: DecimalSign;
};

/** Values against what the fitted distribution expects: on the line where it fits. */
export function probabilityPlot({ value, quantile, serial, unit, decimals, decimal }: ProbabilityPlotInput): ChartSpec {
  const x = rangeOf(quantile, 0.05);
  const y = rangeOf([...value, ...quantile], 0.05);
  return {
    ...EMPTY_SPEC,
    xMin: x.min,
    xMax: x.max,
    xTicks: valueTicks(x.min, x.max, decimal),
    yMin: y.min,
    yMax: y.max,
    yTicks: valueTicks(y.min, y.max, decimal),
    series: [
      { name: "as expected", draw: "line", tone: "blue", x: [x.min, x.max], y: [x.min, x.max] },
      { name: "frames", draw: "points", tone: "ink-2", x: quantile, y: value, labels: serial, tabled: true },
    ],
    xName: `expected, ${unit}`,
    yUnit: unit,
    yDecimals: decimals,
  };
}
