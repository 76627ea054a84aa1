import { drawAxes, drawBand, drawLevels, drawRibbons } from "./chart-ground";
import { drawCallouts, drawChangePoint, drawEvents, drawReach, drawUprights } from "./chart-notes";
import { rule, write, type Pen } from "./chart-pen";
import type { ChartSpec } from "./chart-spec";

/** Below this width a chart has less to say. */
const NARROW = 560;

/** What lies behind the values: bands, forecast, limits with their words, axes. */
export function drawBehind(pen: Pen, spec: ChartSpec): void {
  const isNarrow = pen.width < NARROW;
  spec.bands.filter((band) => band.kind !== "not proven").forEach((band) => drawBand(pen, band, true));
  spec.bands
    .filter((band) => band.kind === "not proven")
    .forEach((band) => drawBand(pen, band, !isNarrow || spec.reach === null));
  drawRibbons(pen, spec);
  drawLevels(pen, spec.levels, isNarrow);
  drawAxes(pen, spec);
}

/** What lies before the values: events, the change point, callouts, now. */
export function drawBefore(pen: Pen, spec: ChartSpec): void {
  const { palette } = pen;
  drawUprights(pen, spec);
  drawEvents(pen, spec);
  drawChangePoint(pen, spec);
  drawReach(pen, spec);
  drawCallouts(pen, spec);
  if (spec.now === null) return;
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
