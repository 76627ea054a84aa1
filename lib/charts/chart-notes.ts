import { LEVEL_TEXT_SIZE, SMALL_TEXT_SIZE, TAG_HEIGHT, chartRoom, tagWidth } from "./chart-config";
import type { ChartSpec } from "./chart-spec";
import { rule, write, type Pen } from "./chart-pen";

export function drawEvents(pen: Pen, spec: ChartSpec): void {
  const { area, palette, ctx } = pen;
  const { tagRows } = chartRoom(spec, pen.width);
  const tags = spec.events.map((event, index) => ({
    text: event.text,
    x: pen.x(event.at),
    top: area.bottom + 26 + (tagRows[index] ?? 0) * 24,
    width: tagWidth(event.text),
  }));
  for (const { x, top } of tags)
    rule(
      pen,
      [
        [x, area.bottom],
        [x, top + TAG_HEIGHT],
      ],
      1.2,
      palette.ink,
    );
  for (const { text, x, top, width } of tags) {
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
    write(pen, text, x + 6, top + TAG_HEIGHT - 4.5, { colour: palette.ink });
  }
}

export function drawChangePoint(pen: Pen, spec: ChartSpec): void {
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
  const width = ctx.measureText(point.intervalText).width;
  if (Math.max(right, x) + 8 + width < pen.width - 4) {
    write(pen, point.intervalText, Math.max(right, x) + 8, top + 41, { colour: palette["ink-2"] });
  } else if (left - 8 - width > 4) {
    write(pen, point.intervalText, left - 8, top + 41, { colour: palette["ink-2"], align: "right" });
  }
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

export function drawCallouts(pen: Pen, spec: ChartSpec): void {
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

export function drawReach(pen: Pen, spec: ChartSpec): void {
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
  const below = Math.min(area.bottom - 8, y + 24);
  const level = spec.levels.map((each) => pen.y(each.value)).find((at) => Math.abs(at - (below - 6)) < 14);
  write(pen, reach.text, right, level === undefined ? below : Math.min(area.bottom - 24, level + 21), {
    size: 16,
    weight: 640,
    colour: palette.blue,
    align: "right",
    halo: true,
  });
}

export function drawUprights(pen: Pen, spec: ChartSpec): void {
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
