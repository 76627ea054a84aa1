import type { Tick } from "./axis-ticks";

/** Colours by what they mean; the browser takes their values from the theme. */
export type Tone = "ink" | "ink-2" | "ink-3" | "muted" | "blue" | "signal" | "no" | "maybe" | "ok";

export type ChartSeries = {
  readonly name: string;
  readonly draw: "line" | "dashed" | "points" | "line and points" | "bars" | "outline";
  readonly tone: Tone;
  readonly x: readonly number[];
  readonly y: readonly number[];
  /** What each point is: the serial of its frame. */
  readonly labels?: readonly string[];
  /** What each point says beside its value. */
  readonly remarks?: readonly string[];
  /** Drawn larger with a rim, never thinned out. */
  readonly flagged?: boolean;
  /** Indices of points outside a limit: they are seen however many points there are. */
  readonly beyond?: readonly number[];
  /** Part of the table of numbers. */
  readonly tabled?: boolean;
};

/** A horizontal line with its value and name written at the right end. */
export type ChartLevel = {
  readonly value: number;
  readonly text: string;
  readonly name: string;
  readonly weight: "limit" | "control" | "mean";
};

/** A vertical line, for limits under a histogram. */
export type ChartUpright = { readonly at: number; readonly text: string };

export type ChartBand = {
  readonly kind: "baseline" | "not proven";
  readonly fromX: number | null;
  readonly toX: number | null;
  readonly fromY: number | null;
  readonly toY: number | null;
  readonly text: string;
};

/** A stretch between two curves: the prediction band of a forecast. */
export type ChartRibbon = {
  readonly x: readonly number[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
};

export type ChartEvent = { readonly at: number; readonly text: string };

export type ChartChangePoint = {
  readonly at: number;
  readonly text: string;
  readonly from: number;
  readonly to: number;
  readonly intervalText: string;
};

export type ChartCallout = { readonly x: number; readonly y: number; readonly text: string; readonly detail: string };

/** Where something is forecast to happen: a bar from the earliest to the latest, with its words. */
export type ChartReach = {
  readonly y: number;
  readonly from: number;
  readonly to: number;
  readonly at: number;
  readonly text: string;
};

/** A chart as plain data: it crosses from the server to the browser, which makes the drawing of it. */
export type ChartSpec = {
  readonly xMin: number;
  readonly xMax: number;
  readonly xTicks: readonly Tick[];
  /** Stretches named above the axis, as days. */
  readonly xMarks: readonly Tick[];
  readonly yMin: number;
  readonly yMax: number;
  readonly yTicks: readonly Tick[];
  readonly series: readonly ChartSeries[];
  readonly levels: readonly ChartLevel[];
  /** Levels of the charts above and below, whose labels need the same room at the right. */
  readonly alignedLevels: readonly ChartLevel[];
  readonly uprights: readonly ChartUpright[];
  readonly bands: readonly ChartBand[];
  readonly ribbons: readonly ChartRibbon[];
  readonly events: readonly ChartEvent[];
  readonly changePoint: ChartChangePoint | null;
  readonly callouts: readonly ChartCallout[];
  readonly reach: ChartReach | null;
  readonly now: number | null;
  /** Name of x in the table and the tooltip, and unit and decimals of y. */
  readonly xName: string;
  readonly yUnit: string;
  readonly yDecimals: number;
};

export const EMPTY_SPEC: ChartSpec = {
  xMin: 0,
  xMax: 1,
  xTicks: [],
  xMarks: [],
  yMin: 0,
  yMax: 1,
  yTicks: [],
  series: [],
  levels: [],
  alignedLevels: [],
  uprights: [],
  bands: [],
  ribbons: [],
  events: [],
  changePoint: null,
  callouts: [],
  reach: null,
  now: null,
  xName: "frame",
  yUnit: "",
  yDecimals: 3,
};

/** Charts that stand under each other: the same stretch of x and the same room at the right, so that frames line up. */
export function alignCharts(specs: readonly ChartSpec[]): readonly ChartSpec[] {
  const xMin = Math.min(...specs.map((spec) => spec.xMin));
  const xMax = Math.max(...specs.map((spec) => spec.xMax));
  const alignedLevels = specs.flatMap((spec) => spec.levels);
  return specs.map((spec) => ({ ...spec, xMin, xMax, alignedLevels }));
}

export type ChartTable = {
  readonly columns: readonly string[];
  readonly rows: readonly (readonly (string | number)[])[];
};

/** The numbers of a chart as a table, one row a point of the tabled series. */
export function chartTable(spec: ChartSpec): ChartTable {
  const tabled = spec.series.filter((series) => series.tabled);
  const labelled = tabled.some((series) => series.labels);
  const remarked = tabled.some((series) => series.remarks?.some((remark) => remark !== ""));
  const unit = spec.yUnit ? `value, ${spec.yUnit}` : "value";
  return {
    columns: [
      spec.xName,
      ...(labelled ? ["serial"] : []),
      ...(tabled.length > 1 ? ["series"] : []),
      unit,
      ...(remarked ? ["remark"] : []),
    ],
    rows: tabled.flatMap((series) =>
      series.x.map((x, index) => [
        x,
        ...(labelled ? [series.labels?.[index] ?? ""] : []),
        ...(tabled.length > 1 ? [series.name] : []),
        series.y[index] ?? 0,
        ...(remarked ? [series.remarks?.[index] ?? ""] : []),
      ]),
    ),
  };
}
