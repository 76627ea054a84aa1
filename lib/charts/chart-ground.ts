import { spreadLabels } from "./axis-ticks";
import { LEVEL_TEXT_SIZE } from "./chart-config";
import type { ChartBand, ChartLevel, ChartSpec } from "./chart-spec";
import { hatch, rule, write, type Pen } from "./chart-pen";

export function drawBand(pen: Pen, band: ChartBand, worded: boolean): void {
  const { ctx, area, palette } = pen;
  const left = band.fromX === null ? area.left : Math.max(area.left, pen.x(band.fromX));
  const right = band.toX === null ? area.right : Math.min(area.right, pen.x(band.toX));
  const top = band.toY === null ? area.top : Math.max(area.top, pen.y(band.toY));
  const bottom = band.fromY === null ? area.bottom : Math.min(area.bottom, pen.y(band.fromY));
  if (right <= left || bottom <= top) return;
  if (band.kind === "not proven") {
    hatch(pen, left, top, right - left, bottom - top);
    if (bottom - top > 17 && band.text && worded)
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

export function drawLevels(pen: Pen, levels: readonly ChartLevel[], narrow: boolean): void {
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

export function drawAxes(pen: Pen, spec: ChartSpec): void {
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

export function drawRibbons(pen: Pen, spec: ChartSpec): void {
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
