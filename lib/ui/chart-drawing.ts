import type { Chart, Plugin } from "chart.js";
import type { ChartPalette } from "@/lib/charts/chart-config";
import { drawBefore, drawBehind } from "@/lib/charts/chart-layers";
import type { Pen } from "@/lib/charts/chart-pen";
import type { ChartSpec } from "@/lib/charts/chart-spec";

/** What the drawing plugin reads at each paint; the canvas component keeps it current. */
export type ChartScene = { spec: ChartSpec; palette: ChartPalette };

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

/** Draws what Chart.js has no element for: limits with their words, bands, events, the change point. Reads plain data only. */
export function drawingPlugin(scene: ChartScene): Plugin {
  return {
    id: "drawing",
    beforeDatasetsDraw(chart) {
      const pen = penOf(chart, scene.palette);
      if (!pen) return;
      drawBehind(pen, scene.spec);
      pen.ctx.restore();
    },
    afterDatasetsDraw(chart) {
      const pen = penOf(chart, scene.palette);
      if (!pen) return;
      drawBefore(pen, scene.spec);
      pen.ctx.restore();
    },
  };
}
