import { chartRoom, type ChartPalette } from "./chart-config";
import { drawBefore, drawBehind } from "./chart-layers";
import { rule, write, type Area, type Canvas, type Pen } from "./chart-pen";
import type { ChartSeries, ChartSpec } from "./chart-spec";
import { thinPoints } from "./thin-points";

/** Colours on paper: those of the light theme, whatever the screen shows. */
export const PAPER_PALETTE: ChartPalette = {
  ink: "#16212b",
  "ink-2": "#46535e",
  "ink-3": "#65717b",
  muted: "#56b4e9",
  blue: "#1d4f91",
  signal: "#cc79a7",
  "signal-text": "#93406b",
  no: "#d55e00",
  maybe: "#e69f00",
  "maybe-wash": "#fbf0d9",
  ok: "#009e73",
  sheet: "#ffffff",
  hair: "#c9cdd0",
  "hair-2": "#e3e3de",
  fontFamily: "sans-serif",
  monoFamily: "monospace",
};

export type ChartPicture = {
  readonly spec: ChartSpec;
  readonly title: string;
  /** What is found, under the title; may be empty. */
  readonly finding: string;
  /** From where and when it is, at the foot; may be empty. */
  readonly stamp: string;
};

const HEAD = 52;
const FOOT = 24;
const SIDE = 14;

function drawPoint({ ctx }: Pen, x: number, y: number, radius: number): void {
  ctx.beginPath();
  ctx.arc(x, y, radius, 0, 2 * Math.PI);
  ctx.closePath();
  ctx.fill();
}

function drawBars(pen: Pen, { x, y, tone }: ChartSeries): void {
  const { ctx, area, palette } = pen;
  const step = x.length > 1 ? Math.abs(pen.x(x[1] ?? 0) - pen.x(x[0] ?? 0)) : area.right - area.left;
  const width = 0.96 * step;
  ctx.fillStyle = palette[tone];
  x.forEach((at, index) => {
    const top = pen.y(y[index] ?? 0);
    ctx.fillRect(pen.x(at) - width / 2, top, width, Math.max(0, area.bottom - top));
  });
}

/** The values themselves; on a screen Chart.js draws them. */
function drawSeries(pen: Pen, series: ChartSeries): void {
  if (series.draw === "bars") {
    drawBars(pen, series);
    return;
  }
  const { ctx, palette } = pen;
  const kept = series.flagged
    ? series.x.map((_, index) => index)
    : thinPoints(series.y, Math.max(50, Math.round(pen.width)), series.beyond);
  const places = kept.map((index) => [pen.x(series.x[index] ?? 0), pen.y(series.y[index] ?? 0)] as const);
  const isJoined = series.draw === "line and points";
  if (series.draw !== "points") {
    const width = isJoined ? 1 : series.draw === "outline" ? 1.6 : 2.6;
    rule(
      pen,
      places,
      width,
      isJoined ? palette["ink-3"] : palette[series.tone],
      series.draw === "dashed" ? [7, 5] : [],
    );
  }
  if (series.draw !== "points" && !isJoined) return;
  const radius = series.flagged ? 4.6 : kept.length > 400 ? 1.8 : 2.9;
  for (const [x, y] of places) {
    ctx.fillStyle = palette[series.tone];
    drawPoint(pen, x, y, radius);
    if (!series.flagged) continue;
    ctx.lineWidth = 1.4;
    ctx.strokeStyle = palette["signal-text"];
    ctx.stroke();
  }
}

/** Flagged points last, so that none of the others covers them. */
const inOrder = (series: readonly ChartSeries[]): readonly ChartSeries[] => [
  ...series.filter(({ draw }) => draw === "bars"),
  ...series.filter(({ draw, flagged }) => draw !== "bars" && !flagged),
  ...series.filter(({ flagged }) => flagged),
];

/**
 * Draws a chart with its title above and its stamp below on anything that can be drawn on: the same picture as on a screen, in
 * the colours of paper.
 *
 * @param size - of the whole picture, in the canvas's units (pixels, points)
 */
export function drawChartPicture(
  ctx: Canvas,
  { spec, title, finding, stamp }: ChartPicture,
  { width, height }: { readonly width: number; readonly height: number },
  palette: ChartPalette = PAPER_PALETTE,
): void {
  const room = chartRoom(spec, width);
  const head = title === "" ? 0 : HEAD;
  const foot = stamp === "" ? 0 : FOOT;
  const area: Area = {
    left: room.left,
    right: width - room.right,
    top: head + room.top,
    bottom: height - foot - room.bottom,
  };
  const pen: Pen = {
    ctx,
    area,
    palette,
    width,
    x: (value) => area.left + ((value - spec.xMin) / (spec.xMax - spec.xMin)) * (area.right - area.left),
    y: (value) => area.bottom - ((value - spec.yMin) / (spec.yMax - spec.yMin)) * (area.bottom - area.top),
  };
  ctx.fillStyle = palette.sheet;
  ctx.fillRect(0, 0, width, height);
  if (title !== "") {
    write(pen, title, SIDE, 24, { size: 18, weight: 640, colour: palette.ink });
    write(pen, finding, SIDE, 44, { colour: palette["ink-2"] });
  }
  drawBehind(pen, spec);
  ctx.save();
  ctx.beginPath();
  ctx.rect(area.left - 5, area.top - 5, area.right - area.left + 10, area.bottom - area.top + 10);
  ctx.clip();
  for (const series of inOrder(spec.series)) drawSeries(pen, series);
  ctx.restore();
  drawBefore(pen, spec);
  if (stamp !== "") write(pen, stamp, SIDE, height - 8, { size: 12, colour: palette["ink-2"] });
}
