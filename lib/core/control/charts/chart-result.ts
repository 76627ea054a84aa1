import type { Estimate } from "../../errors";
import type { ChartSignal } from "../rules/chart-signal";
import type { RunRule } from "../rules/run-rules";

/** What is plotted. One kind a chart; a chart set has one main chart and its companions. */
export type ChartKind =
  | "individuals"
  | "moving-range"
  | "mean"
  | "range"
  | "standard-deviation"
  | "ewma"
  | "cusum-upper"
  | "cusum-lower"
  | "trended"
  | "deviation-from-nominal"
  | "standardised"
  | "p"
  | "np"
  | "c"
  | "u"
  | "p-prime"
  | "t2"
  | "mewma";

/** What the limits rest on. All in the unit of the charted characteristic. */
export type ChartEstimates = Readonly<{
  /** Centre of the characteristic (process mean, proportion, count a unit). */
  centre: number;
  /** Standard deviation of one reading (for attribute charts: of one point at the mean size). */
  sigma: number;
  /** How sigma was found, e.g. "mean-moving-range", "given". */
  sigmaMethod: string;
  /** Number of points the estimates rest on. */
  count: number;
  /** Every other number a reader may ask for, by name (meanMovingRange, meanRange, d2 ...). */
  details: Readonly<Record<string, number>>;
}>;

/**
 * One chart, complete: everything that is needed to draw and to explain it. Columns have one entry a
 * point. A value is null where the statistic does not exist (the first moving range); a limit is null
 * where there is none on that side.
 */
export type ChartResult = Readonly<{
  kind: ChartKind;
  /** 1: limits were estimated from these points; 2: limits were given. */
  phase: 1 | 2;
  values: readonly (number | null)[];
  /** Readings behind each point (subgroup or sample size), or null where each is 1. */
  sizes: readonly number[] | null;
  centre: readonly number[];
  lower: readonly (number | null)[];
  upper: readonly (number | null)[];
  /** Standard deviation of each plotted point: zone lines lie at centre +- 1, 2 ... sigma; null: no zones. */
  sigma: readonly number[] | null;
  /** Indices left out of estimates and tests (assigned cause), ascending; still plotted. */
  excluded: readonly number[];
  rules: readonly RunRule[];
  signals: readonly ChartSignal[];
  estimates: ChartEstimates;
  warnings: readonly string[];
}>;

/** A chart with those that belong beside it (moving range, range, spread within a bore). */
export type ChartSet = Readonly<{
  main: ChartResult;
  companions: readonly ChartResult[];
  estimates: ChartEstimates;
}>;

/** A chart set, or the reason in words why there is none. */
export type ChartEstimate = Estimate<ChartSet>;
