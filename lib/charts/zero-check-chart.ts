import { formatDay } from "@/lib/format/date-text";
import { formatFixed, formatSigned, withUnit } from "@/lib/format/number-text";
import { niceTicks, rangeOf } from "./axis-ticks";
import { EMPTY_SPEC, type ChartSpec } from "./chart-spec";
import { valueTicks } from "./stream-chart";

const DAY_MS = 86_400_000;
/** Days written under the axis: so many stand beside each other on a phone. */
const MOST_TICKS = 4;
/** "11-20" of "2026-11-20": the year stands in the table. */
const monthAndDay = (ms: number, zone: string) => formatDay(ms, { zone }).slice(5);
/** Stretches of doubt that are drawn; a gauge with more has other troubles. */
const MOST_BANDS = 50;

export type ZeroCheckChartInput = {
  /** In the order of time: what the gauge showed less what its ring is, and the limit it was judged by. */
  readonly checks: readonly {
    readonly atMs: number;
    readonly driftUm: number;
    readonly limitUm: number;
    readonly text: string;
  }[];
  readonly calibrations: readonly { readonly atMs: number; readonly biasUm: number | null }[];
  /** Stretches in which readings are in doubt; an open end is null. */
  readonly doubts: readonly { readonly afterMs: number | null; readonly untilMs: number | null }[];
  /** The limit that a check has now. */
  readonly limitUm: number;
  readonly nowMs: number;
  readonly zone: string;
};

/** Zero checks and calibrations of a gauge on one axis of days, against the limit, with the stretches in doubt behind them. */
export function zeroCheckChart({ checks, calibrations, doubts, limitUm, nowMs, zone }: ZeroCheckChartInput): ChartSpec {
  const fromMs = Math.min(nowMs - DAY_MS, ...checks.map(({ atMs }) => atMs), ...calibrations.map(({ atMs }) => atMs));
  const dayOf = (ms: number) => (ms - fromMs) / DAY_MS;
  const last = dayOf(nowMs);
  const stated = calibrations.flatMap(({ atMs, biasUm }) => (biasUm === null ? [] : [{ atMs, biasUm }]));
  const values = [...checks.map(({ driftUm }) => driftUm), ...stated.map(({ biasUm }) => biasUm)];
  const { min, max } = rangeOf([...values, -1.3 * limitUm, 1.3 * limitUm], 0.08);
  const limit = (value: number) => ({
    value,
    text: withUnit(formatSigned(value, 2), "µm"),
    name: "limit of a check",
    weight: "limit" as const,
  });
  const failed = checks.filter((check) => Math.abs(check.driftUm) > check.limitUm);
  return {
    ...EMPTY_SPEC,
    xMin: -last * 0.01,
    xMax: last * 1.01,
    xTicks: niceTicks(0, last, MOST_TICKS).map((at) => ({ at, text: monthAndDay(fromMs + at * DAY_MS, zone) })),
    yMin: min,
    yMax: max,
    yTicks: valueTicks(min, max),
    series: [
      {
        name: "zero check",
        draw: "line and points",
        tone: "ink-2",
        x: checks.map(({ atMs }) => dayOf(atMs)),
        y: checks.map(({ driftUm }) => driftUm),
        labels: checks.map(({ text }) => text),
        remarks: checks.map((check) =>
          Math.abs(check.driftUm) > check.limitUm ? `beyond its limit of ${formatFixed(check.limitUm, 2)} µm` : "",
        ),
        tabled: true,
      },
      {
        name: "failed check",
        draw: "points",
        tone: "maybe",
        x: failed.map(({ atMs }) => dayOf(atMs)),
        y: failed.map(({ driftUm }) => driftUm),
        labels: failed.map(({ text }) => text),
        flagged: true,
      },
      {
        name: "calibration",
        draw: "points",
        tone: "blue",
        x: stated.map(({ atMs }) => dayOf(atMs)),
        y: stated.map(({ biasUm }) => biasUm),
        labels: stated.map(({ atMs }) => formatDay(atMs, { zone })),
        flagged: true,
      },
    ],
    levels: [limit(limitUm), { value: 0, text: "0", name: "the ring", weight: "mean" }, limit(-limitUm)],
    bands: doubts.slice(-MOST_BANDS).map(({ afterMs, untilMs }) => ({
      kind: "not proven",
      fromX: afterMs === null ? 0 : Math.max(0, dayOf(afterMs)),
      toX: untilMs === null ? last : dayOf(untilMs),
      fromY: null,
      toY: null,
      text: "in doubt",
    })),
    events: calibrations.map(({ atMs }) => ({ at: dayOf(atMs), text: "calibrated" })),
    xName: "days",
    yUnit: "µm",
    yDecimals: 2,
  };
}
