import type { Chart, ChartArea, Plugin } from "chart.js";
import { spreadLabels } from "@/lib/charts/axis-ticks";
import {
  LEVEL_TEXT_SIZE,
  SMALL_TEXT_SIZE,
  TAG_HEIGHT,
  chartRoom,
  tagWidth,
  type ChartPalette,
} from "@/lib/charts/chart-config";
import type { ChartBand, ChartLevel, ChartSpec } from "@/lib/charts/chart-spec";

/** What the drawing plugin reads at each paint; the canvas component keeps it current. */
export type ChartScene = { spec: ChartSpec; palette: ChartPalette };

type Pen = {
  readonly ctx: CanvasRenderingContext2D;
  readonly area: ChartArea;
  readonly x: (value: number) => number;
  readonly y: (value: number) => number;
  readonly palette: ChartPalette;
  readonly width: number;
};

function penOf(chart: Chart, palette: ChartPalette): Pen | null {
  const { x, y } = chart.scales;
  if (!x || !y) return null;
  return {
    ctx: chart.ctx,
    area: chart.chartArea,
    x: (value) => x.getPixelForValue(value),
    y: (value) => y.getPixelForValue(value),
    palette,
    width: chart.width,
  };
}

type TextStyle = { size?: number; weight?: number; colour: string; align?: CanvasTextAlign; halo?: boolean };

function write(
  pen: Pen,
  text: string,
  x: number,
  y: number,
  { size = SMALL_TEXT_SIZE, weight = 400, colour, align = "left", halo = false }: TextStyle,
): void {
  const { ctx, palette } = pen;
  ctx.font = `${weight} ${size}px ${palette.fontFamily}`;
  ctx.textAlign = align;
  ctx.textBaseline = "alphabetic";
  if (halo) {
    ctx.lineJoin = "round";
    ctx.lineWidth = 5;
    ctx.strokeStyle = palette.sheet;
    ctx.setLineDash([]);
    ctx.strokeText(text, x, y);
  }
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}

function rule(
  pen: Pen,
  points: readonly (readonly [number, number])[],
  width: number,
  colour: string,
  dash: readonly number[] = [],
): void {
  const { ctx } = pen;
  ctx.beginPath();
  points.forEach(([x, y], index) => (index === 0 ? ctx.moveTo(x, y) : ctx.lineTo(x, y)));
  ctx.lineWidth = width;
  ctx.strokeStyle = colour;
  ctx.setLineDash([...dash]);
  ctx.stroke();
  ctx.setLineDash([]);
}

function hatch(pen: Pen, left: number, top: number, width: number, height: number): void {
  const { ctx, palette } = pen;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.globalAlpha = 0.42;
  ctx.strokeStyle = palette.maybe;
  ctx.lineWidth = 1.4;
  ctx.beginPath();
  for (let x = left - height; x < left + width; x += 7) {
    ctx.moveTo(x, top + height);
    ctx.lineTo(x + height, top);
  }
  ctx.stroke();
  ctx.restore();
}

function drawBand(pen: Pen, band: ChartBand): void {
  const { ctx, area, palette } = pen;
  const left = band.fromX === null ? area.left : Math.max(area.left, pen.x(band.fromX));
  const right = band.toX === null ? area.right : Math.min(area.right, pen.x(band.toX));
  const top = band.toY === null ? area.top : Math.max(area.top, pen.y(band.toY));
  const bottom = band.fromY === null ? area.bottom : Math.min(area.bottom, pen.y(band.fromY));
  if (right <= left || bottom <= top) return;
  if (band.kind === "not proven") {
    hatch(pen, left, top, right - left, bottom - top);
    if (bottom - top > 17 && band.text)
      write(pen, band.text, left + 6, (top + bottom) / 2 + 5, { colour: palette["ink-2"], halo: true });
  } else {
    ctx.fillStyle = palette["hair-2"];
    ctx.globalAlpha = 0.6;
    ctx.fillRect(left, top, right - left, bottom - top);
    ctx.globalAlpha = 1;
    write(pen, band.text, left + 4, top - 6, { colour: palette["ink-2"], halo: true });
  }
}

const LEVEL_STYLE: Readonly<Record<ChartLevel["weight"], { width: number; dash: readonly number[]; strong: boolean }>> =
  {
    limit: { width: 2.8, dash: [], strong: true },
    control: { width: 1.4, dash: [9, 4], strong: false },
    mean: { width: 0.8, dash: [], strong: false },
  };

function drawLevels(pen: Pen, levels: readonly ChartLevel[], narrow: boolean): void {
  const { area, palette, ctx } = pen;
  const wanted = levels.map((level) => pen.y(level.value));
  const placed = spreadLabels(wanted, 18, area.top, area.bottom + 4);
  levels.forEach((level, index) => {
    const style = LEVEL_STYLE[level.weight];
    const y = wanted[index] ?? 0;
    const labelY = (placed[index] ?? y) + 5;
    const colour = style.strong ? palette.ink : palette["ink-2"];
    rule(
      pen,
      [
        [area.left, y],
        [area.right, y],
      ],
      style.width,
      colour,
      style.dash,
    );
    write(pen, level.text, area.right + 8, labelY, {
      size: LEVEL_TEXT_SIZE,
      weight: style.strong ? 640 : 600,
      colour: palette.ink,
    });
    if (narrow) return;
    const offset = ctx.measureText(level.text).width + 6;
    write(pen, level.name, area.right + 8 + offset, labelY, { colour: palette["ink-2"] });
  });
}

function drawAxes(pen: Pen, spec: ChartSpec): void {
  const { area, palette } = pen;
  spec.xMarks.forEach((mark, index) => {
    const x = pen.x(mark.at);
    if (x < area.left - 1 || x > area.right) return;
    rule(
      pen,
      [
        [x, area.bottom - 20],
        [x, area.bottom],
      ],
      1,
      palette.hair,
    );
    const next = spec.xMarks[index + 1];
    pen.ctx.font = `400 13px ${palette.fontFamily}`;
    const ends = x + 8 + pen.ctx.measureText(mark.text).width;
    if (ends > (next ? pen.x(next.at) : pen.width)) return;
    write(pen, mark.text, x + 4, area.bottom - 6, { size: 13, colour: palette["ink-2"], halo: true });
  });
  rule(
    pen,
    [
      [area.left, area.bottom],
      [area.right, area.bottom],
    ],
    1.4,
    palette.ink,
  );
  for (const tick of spec.xTicks) {
    const x = pen.x(tick.at);
    rule(
      pen,
      [
        [x, area.bottom],
        [x, area.bottom + 5],
      ],
      1,
      palette.ink,
    );
    write(pen, tick.text, x, area.bottom + 19, { colour: palette["ink-2"], align: "center" });
  }
  for (const tick of spec.yTicks) {
    const y = pen.y(tick.at);
    if (y < area.top - 1 || y > area.bottom + 1) continue;
    rule(
      pen,
      [
        [area.left - 6, y],
        [area.left - 1, y],
      ],
      1,
      palette.ink,
    );
    write(pen, tick.text, area.left - 10, y + 5, { colour: palette["ink-2"], align: "right" });
  }
}

function drawEvents(pen: Pen, spec: ChartSpec): void {
  const { area, palette, ctx } = pen;
  const { tagRows } = chartRoom(spec, pen.width);
  spec.events.forEach((event, index) => {
    const x = pen.x(event.at);
    const top = area.bottom + 26 + (tagRows[index] ?? 0) * 24;
    const width = tagWidth(event.text);
    rule(
      pen,
      [
        [x, area.bottom],
        [x, top + TAG_HEIGHT],
      ],
      1.2,
      palette.ink,
    );
    ctx.beginPath();
    ctx.moveTo(x, top);
    ctx.lineTo(x + width, top);
    ctx.lineTo(x + width - 6, top + TAG_HEIGHT / 2);
    ctx.lineTo(x + width, top + TAG_HEIGHT);
    ctx.lineTo(x, top + TAG_HEIGHT);
    ctx.closePath();
    ctx.fillStyle = palette.sheet;
    ctx.fill();
    ctx.lineWidth = 1.2;
    ctx.strokeStyle = palette.ink;
    ctx.stroke();
    write(pen, event.text, x + 6, top + TAG_HEIGHT - 4.5, { colour: palette.ink });
  });
}

function drawChangePoint(pen: Pen, spec: ChartSpec): void {
  const point = spec.changePoint;
  if (!point) return;
  const { area, palette, ctx } = pen;
  const x = pen.x(point.at);
  const top = area.top - 54;
  rule(
    pen,
    [
      [x, top],
      [x, area.bottom],
    ],
    2,
    palette.signal,
  );
  ctx.beginPath();
  ctx.moveTo(x + 1, top + 1);
  ctx.lineTo(x + 19, top + 7.5);
  ctx.lineTo(x + 1, top + 14);
  ctx.closePath();
  ctx.fillStyle = palette.signal;
  ctx.fill();
  ctx.lineWidth = 1.1;
  ctx.strokeStyle = palette["signal-text"];
  ctx.stroke();
  const left = Math.max(area.left, pen.x(point.from));
  const right = Math.min(area.right, pen.x(point.to));
  rule(
    pen,
    [
      [left, top + 36],
      [Math.max(right, left + 4), top + 36],
    ],
    6,
    palette.signal,
  );
  const narrow = pen.width < 560;
  const size = narrow ? SMALL_TEXT_SIZE : 16;
  const text = narrow ? point.text.replace(/^[^:]*: /, "") : point.text;
  ctx.font = `640 ${size}px ${palette.fontFamily}`;
  const fits = x + 30 + ctx.measureText(text).width < pen.width - 4;
  write(pen, text, fits ? x + 30 : x - 10, top + 13, {
    size,
    weight: 640,
    colour: palette["signal-text"],
    align: fits ? "left" : "right",
  });
  ctx.font = `400 ${SMALL_TEXT_SIZE}px ${palette.fontFamily}`;
  const roomRight = right + 8 + ctx.measureText(point.intervalText).width < pen.width - 4;
  write(pen, point.intervalText, roomRight ? Math.max(right, x) + 8 : left - 8, top + 41, {
    colour: palette["ink-2"],
    align: roomRight ? "left" : "right",
  });
}

const CALLOUT_PLACES = [
  [-110, 84],
  [-110, -64],
  [-60, 120],
  [-60, -100],
  [24, 96],
  [24, -76],
  [-220, 84],
  [-220, -64],
] as const;

/** Where the words of a callout cover the fewest points. */
function freePlace(pen: Pen, spec: ChartSpec, x: number, y: number, width: number): { left: number; top: number } {
  const { area } = pen;
  let best = { left: x, top: y };
  let fewest = Number.POSITIVE_INFINITY;
  for (const [dx, dy] of CALLOUT_PLACES) {
    const left = Math.min(Math.max(area.left + 4, x + dx), area.right - width - 4);
    const top = Math.min(Math.max(area.top + 4, y + dy - 16), area.bottom - 64);
    const levels = spec.levels.filter((level) => pen.y(level.value) > top - 2 && pen.y(level.value) < top + 40).length;
    const covered = spec.series.reduce((sum, series) => {
      const inside = series.x.filter((at, index) => {
        const px = pen.x(at);
        const py = pen.y(series.y[index] ?? 0);
        return px > left - 4 && px < left + width + 4 && py > top - 4 && py < top + 42;
      });
      return sum + inside.length;
    }, levels * 2);
    const near = Math.abs(dy) / 1000;
    if (covered + near < fewest) {
      fewest = covered + near;
      best = { left, top };
    }
  }
  return best;
}

function drawCallouts(pen: Pen, spec: ChartSpec): void {
  const { palette, ctx } = pen;
  for (const callout of spec.callouts) {
    const x = pen.x(callout.x);
    const y = pen.y(callout.y);
    ctx.beginPath();
    ctx.arc(x, y, 9, 0, 2 * Math.PI);
    ctx.lineWidth = 2;
    ctx.strokeStyle = palette["signal-text"];
    ctx.stroke();
    if (pen.width < 560) continue;
    ctx.font = `640 16px ${palette.fontFamily}`;
    const width = ctx.measureText(callout.text).width;
    const { left, top } = freePlace(pen, spec, x, y, width);
    const below = top > y;
    const joint = Math.min(Math.max(left + 16, x), left + width - 16);
    rule(
      pen,
      [
        [x + Math.sign(joint - x) * 5, y + (below ? 8 : -8)],
        [joint, below ? top : top + 40],
      ],
      1.4,
      palette["signal-text"],
    );
    write(pen, callout.text, left, top + 16, { size: 16, weight: 640, colour: palette["signal-text"], halo: true });
    write(pen, callout.detail, left, top + 34, { colour: palette["ink-2"], halo: true });
  }
}

function drawRibbons(pen: Pen, spec: ChartSpec): void {
  const { ctx, palette, area } = pen;
  for (const ribbon of spec.ribbons) {
    ctx.save();
    ctx.beginPath();
    ctx.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
    ctx.clip();
    ctx.beginPath();
    ribbon.x.forEach((x, index) => ctx.lineTo(pen.x(x), pen.y(ribbon.upper[index] ?? 0)));
    for (let i = ribbon.x.length - 1; i >= 0; i -= 1) ctx.lineTo(pen.x(ribbon.x[i] ?? 0), pen.y(ribbon.lower[i] ?? 0));
    ctx.closePath();
    ctx.globalAlpha = 0.14;
    ctx.fillStyle = palette.blue;
    ctx.fill();
    ctx.restore();
  }
}

function drawReach(pen: Pen, spec: ChartSpec): void {
  const { reach } = spec;
  if (!reach) return;
  const { area, palette, ctx } = pen;
  const y = pen.y(reach.y);
  rule(
    pen,
    [
      [pen.x(reach.at), y],
      [pen.x(reach.at), area.bottom],
    ],
    1.4,
    palette.blue,
  );
  rule(
    pen,
    [
      [pen.x(reach.from), y],
      [Math.min(area.right, pen.x(reach.to)), y],
    ],
    5,
    palette.blue,
  );
  ctx.font = `640 16px ${palette.fontFamily}`;
  const right = Math.max(area.left + ctx.measureText(reach.text).width + 8, Math.min(area.right - 4, pen.x(reach.to)));
  write(pen, reach.text, right, Math.min(area.bottom - 8, y + 24), {
    size: 16,
    weight: 640,
    colour: palette.blue,
    align: "right",
    halo: true,
  });
}

function drawUprights(pen: Pen, spec: ChartSpec): void {
  const { area, palette } = pen;
  for (const upright of spec.uprights) {
    const x = pen.x(upright.at);
    rule(
      pen,
      [
        [x, area.top],
        [x, area.bottom + 6],
      ],
      2.8,
      palette.ink,
    );
    const align = x < area.left + 30 ? "left" : x > area.right - 30 ? "right" : "center";
    write(pen, upright.text, x, area.bottom + 22, { size: LEVEL_TEXT_SIZE, weight: 600, colour: palette.ink, align });
  }
}

/** Draws what Chart.js has no element for: limits with their words, bands, events, the change point. Reads plain data only. */
export function drawingPlugin(scene: ChartScene): Plugin {
  return {
    id: "drawing",
    beforeDatasetsDraw(chart) {
      const pen = penOf(chart, scene.palette);
      if (!pen) return;
      const { spec } = scene;
      pen.ctx.save();
      spec.bands.filter((band) => band.kind !== "not proven").forEach((band) => drawBand(pen, band));
      spec.bands.filter((band) => band.kind === "not proven").forEach((band) => drawBand(pen, band));
      drawRibbons(pen, spec);
      drawLevels(pen, spec.levels, chart.width < 560);
      drawAxes(pen, spec);
      pen.ctx.restore();
    },
    afterDatasetsDraw(chart) {
      const pen = penOf(chart, scene.palette);
      if (!pen) return;
      const { spec, palette } = scene;
      pen.ctx.save();
      drawUprights(pen, spec);
      drawEvents(pen, spec);
      drawChangePoint(pen, spec);
      drawReach(pen, spec);
      drawCallouts(pen, spec);
      if (spec.now !== null) {
        rule(
          pen,
          [
            [pen.x(spec.now), pen.area.top - 10],
            [pen.x(spec.now), pen.area.bottom],
          ],
          1,
          palette.ink,
          [2, 3],
        );
        write(pen, "now", pen.x(spec.now) + 6, pen.area.top - 1, { colour: palette["ink-2"] });
      }
      pen.ctx.restore();
    },
  };
}
