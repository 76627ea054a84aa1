import type { ChartEstimate, ChartSet } from "@/lib/core/control/charts/chart-result";

/** The chart set of an estimate that must have one. */
export function chartOf(estimate: ChartEstimate): ChartSet {
  if (!estimate.ok) throw new Error(`no chart: ${estimate.reason}`);
  return estimate.value;
}

/** Indices of the points at which a chart signals, each once, counted from 1 as books do. */
export function signalledFrom1(chart: ChartSet["main"], rule?: string): number[] {
  const indices = chart.signals
    .filter((signal) => rule === undefined || signal.rule === rule)
    .map(({ index }) => index + 1);
  return [...new Set(indices)];
}
