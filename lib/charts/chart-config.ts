import type { ChartConfiguration, ChartDataset } from "chart.js";
import { formatFixed, type DecimalSign } from "@/lib/format/number-text";
import { rowsOfTags } from "./axis-ticks";
import type { ChartSeries, ChartSpec, Tone } from "./chart-spec";
import { labelWidth } from "./label-box";
import { thinPoints } from "./thin-points";

/** Colours of the theme that is on, and the faces. */
export type ChartPalette = Readonly<
  Record<Tone | "sheet" | "hair" | "hair-2" | "signal-text" | "maybe-wash", string>
> & {
  readonly fontFamily: string;
  readonly monoFamily: string;
};

export const LEVEL_TEXT_SIZE = 15;
export const SMALL_TEXT_SIZE = 14;
export const TAG_HEIGHT = 18;
const TAG_ROW = 24;
const LEFT_AXIS = 58;

/** Room round the plot for labels at the right, the change point above and event tags below, pixels. */
export type ChartRoom = {
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
  readonly tagRows: readonly number[];
};

/** Width of an event's tag, pixels. */
export function tagWidth(text: string): number {
  return labelWidth(text, SMALL_TEXT_SIZE) + 18;
}

/** The room that labels need at a width of the canvas. */
export function chartRoom(spec: ChartSpec, widthPx: number): ChartRoom {
  const narrow = widthPx < 560;
  const labelled = [...spec.levels, ...spec.alignedLevels];
  const widths = labelled.map(
    ({ text, name }) => labelWidth(text, LEVEL_TEXT_SIZE) + (narrow ? 0 : labelWidth(name, SMALL_TEXT_SIZE) * 0.95 + 6),
  );
  const right = 18 + Math.max(0, ...widths);
  const left = spec.yTicks.length === 0 ? 8 : LEFT_AXIS;
  const plot = Math.max(1, widthPx - left - right);
  const xOf = (x: number) => ((x - spec.xMin) / (spec.xMax - spec.xMin)) * plot;
  const tagRows = rowsOfTags(
    spec.events.map((event) => ({ left: xOf(event.at), width: tagWidth(event.text) })),
    4,
  );
  const rows = spec.events.length === 0 ? 0 : Math.max(...tagRows) + 1;
  return {
    left,
    right,
    top: spec.changePoint ? 58 : spec.now === null ? 10 : 22,
    bottom: (spec.xTicks.length > 0 || spec.uprights.length > 0 ? 24 : 6) + rows * TAG_ROW + (rows > 0 ? 2 : 0),
    tagRows,
  };
}

const RADIUS = { few: 2.9, many: 1.8 } as const;

function datasetOf(series: ChartSeries, palette: ChartPalette, widthPx: number): ChartDataset {
  const kept =
    series.flagged || series.draw === "bars"
      ? series.x.map((_, index) => index)
      : thinPoints(series.y, Math.max(50, Math.round(widthPx)), series.beyond);
  const data = kept.map((index) => ({ x: series.x[index] ?? 0, y: series.y[index] ?? 0, at: index }));
  const colour = palette[series.tone];
  if (series.draw === "bars") {
    return {
      type: "bar",
      label: series.name,
      data,
      backgroundColor: colour,
      barPercentage: 0.96,
      categoryPercentage: 1,
      grouped: false,
      order: 4,
    };
  }
  const points = series.draw === "points" || series.draw === "line and points";
  const crowded = series.x.length > widthPx * 1.2;
  const radius = series.flagged ? 4.6 : kept.length > 400 ? RADIUS.many : RADIUS.few;
  const beyond = new Set(series.beyond);
  const isLine = crowded && series.draw === "line and points";
  // Where a line stands for points, those outside a limit stay points.
  const radii = !points ? 0 : isLine ? kept.map((index) => (beyond.has(index) ? RADIUS.few : 0)) : radius;
  return {
    type: "line",
    label: series.name,
    data,
    showLine: series.draw !== "points",
    borderColor:
      series.draw === "line and points" ? palette["ink-3"] : series.flagged ? palette["signal-text"] : colour,
    borderWidth: series.draw === "line and points" ? 1 : series.draw === "outline" ? 1.6 : 2.6,
    borderDash: series.draw === "dashed" ? [7, 5] : [],
    pointRadius: radii,
    pointHoverRadius: points ? radius + 2 : 0,
    pointHitRadius: points ? 6 : 0,
    pointBackgroundColor: colour,
    pointBorderColor: series.flagged ? palette["signal-text"] : colour,
    pointBorderWidth: series.flagged ? 1.4 : 0,
    tension: 0,
    order: series.flagged ? 0 : series.draw === "line" || series.draw === "dashed" ? 1 : 2,
  };
}

/** Chart.js configuration of a chart at a width: no parsing, no animation, axes as the specification says. */
export function toChartConfig(
  spec: ChartSpec,
  palette: ChartPalette,
  widthPx: number,
  decimal: DecimalSign = ".",
): ChartConfiguration {
  const room = chartRoom(spec, widthPx);
  const font = { family: palette.fontFamily, size: SMALL_TEXT_SIZE };
  return {
    type: "line",
    data: { datasets: spec.series.map((series) => datasetOf(series, palette, widthPx)) },
    options: {
      parsing: false,
      normalized: true,
      animation: false,
      responsive: true,
      maintainAspectRatio: false,
      events: ["mousemove", "mouseout", "click", "touchstart"],
      layout: {
        autoPadding: false,
        padding: { left: room.left, right: room.right, top: room.top, bottom: room.bottom },
      },
      interaction: { mode: "nearest", intersect: false, axis: "xy" },
      scales: {
        x: { type: "linear", display: false, min: spec.xMin, max: spec.xMax },
        y: { type: "linear", display: false, min: spec.yMin, max: spec.yMax },
      },
      plugins: {
        tooltip: {
          enabled: true,
          displayColors: false,
          backgroundColor: palette.ink,
          titleColor: palette.sheet,
          bodyColor: palette.sheet,
          cornerRadius: 0,
          caretSize: 0,
          padding: 8,
          titleFont: { family: palette.monoFamily, size: SMALL_TEXT_SIZE, weight: 600 },
          bodyFont: font,
          filter: (item) =>
            spec.series[item.datasetIndex]?.tabled === true || spec.series[item.datasetIndex]?.flagged === true,
          callbacks: {
            title: (items) => {
              const item = items[0];
              if (!item) return "";
              const at = (item.raw as { at: number }).at;
              return spec.series[item.datasetIndex]?.labels?.[at] ?? "";
            },
            label: (item) => {
              const { x, y, at } = item.raw as { x: number; y: number; at: number };
              const remark = spec.series[item.datasetIndex]?.remarks?.[at] ?? "";
              const value = `${formatFixed(y, spec.yDecimals, decimal)} ${spec.yUnit}, ${spec.xName} ${formatFixed(x, Number.isInteger(x) ? 0 : 3, decimal)}`;
              return remark ? [value, remark] : value;
            },
          },
        },
      },
    },
  };
}
