import type { Plugin } from "chart.js";
import type { ChartPalette } from "@/lib/charts/chart-config";
import type { ChartSpec } from "@/lib/charts/chart-spec";
import { drawAxes, drawBand, drawLevels, drawRibbons } from "./chart-ground";
import { drawCallouts, drawChangePoint, drawEvents, drawReach, drawUprights } from "./chart-notes";
import { penOf, rule, write } from "./chart-pen";

/** What the drawing plugin reads at each paint; the canvas component keeps it current. */
export type ChartScene = { spec: ChartSpec; palette: ChartPalette };

/** Draws what Chart.js has no element for: limits with their words, bands, events, the change point. Reads plain data only. */
export function drawingPlugin(scene: ChartScene): Plugin {
  return {
    id: "drawing",
    beforeDatasetsDraw(chart) {
      const pen = penOf(chart, scene.palette);
      if (!pen) return;
      const { spec } = scene;
      pen.ctx.save();
      spec.bands.filter((band) => band.kind !== "not proven").forEach((band) => drawBand(pen, band, true));
      spec.bands
        .filter((band) => band.kind === "not proven")
        .forEach((band) => drawBand(pen, band, chart.width >= 560 || spec.reach === null));
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
