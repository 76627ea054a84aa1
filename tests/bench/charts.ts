import { build } from "esbuild";
import path from "node:path";
import { launchBrowser } from "../helpers/browser";
import type { BenchLine } from "./run";

const ROOT = path.resolve(import.meta.dirname, "../..");
const REPEATS = 15;

/** What a browser needs to draw the chart of a stream: the same functions as the screen's component. */
const PROGRAM = `
import { BarController, BarElement, Chart, LinearScale, LineController, LineElement, PointElement, Tooltip } from "chart.js";
import { toChartConfig } from "@/lib/charts/chart-config";
import { EMPTY_SPEC } from "@/lib/charts/chart-spec";
import { streamChart } from "@/lib/charts/stream-chart";
import { drawingPlugin } from "@/lib/ui/chart-drawing";
import { PAPER_PALETTE } from "@/lib/charts/chart-picture";
Chart.register(LineController, BarController, LineElement, BarElement, PointElement, LinearScale, Tooltip);
const palette = { ...PAPER_PALETTE, fontFamily: "sans-serif", monoFamily: "monospace" };
function specOf(count) {
  if (count === 0) return EMPTY_SPEC;
  const frame = Array.from({ length: count }, (_, at) => at + 1);
  return streamChart({
    frame, value: frame.map((at) => 45.975 + 0.003 * Math.sin(at * 2.4) + (at % 997 === 0 ? 0.04 : 0)),
    serial: frame.map((at) => "A46-" + at), unit: "mm", decimals: 3, lower: 45.95, upper: 46, guard: 0.006, centre: 45.975,
    lowerControl: 45.966, upperControl: 45.984, baseline: { from: 1, to: 100 }, flagged: [], events: [{ at: 50, text: "reamer" }],
  });
}
window.draw = (count) => {
  const canvas = document.querySelector("canvas");
  const from = performance.now();
  const spec = specOf(count);
  const chart = new Chart(canvas, { ...toChartConfig(spec, palette, canvas.clientWidth), plugins: [drawingPlugin({ spec, palette })] });
  chart.draw();
  // Reading a pixel waits until everything before it is on the canvas.
  canvas.getContext("2d").getImageData(0, 0, 1, 1);
  const took = performance.now() - from;
  chart.destroy();
  return took;
};
`;

/**
 * How long a stream's chart takes to be made and drawn in a browser at 1,000 x 480, the least of several; the empty chart beside it is
 * the floor of this machine at this moment.
 */
export async function bench(): Promise<BenchLine[]> {
  const bundled = await build({
    stdin: { contents: PROGRAM, resolveDir: ROOT, loader: "ts" },
    bundle: true,
    write: false,
    platform: "browser",
    format: "iife",
    tsconfig: path.join(ROOT, "tsconfig.json"),
    logLevel: "warning",
  });
  const browser = await launchBrowser();
  try {
    const page = await browser.newPage({ viewport: { width: 1100, height: 700 } });
    await page.setContent('<div style="width:1000px;height:480px"><canvas></canvas></div>');
    await page.addScriptTag({ content: bundled.outputFiles[0]?.text ?? "" });
    const least = async (count: number): Promise<number> => {
      let best = Infinity;
      for (let at = 0; at < REPEATS; at += 1)
        best = Math.min(
          best,
          await page.evaluate((points) => (window as unknown as { draw: (n: number) => number }).draw(points), count),
        );
      return best;
    };
    return [
      { name: "empty chart drawn, the floor, ms", value: await least(0), goal: null },
      { name: "2,000 points drawn, ms", value: await least(2000), goal: 100 },
      { name: "100,000 points drawn, ms", value: await least(100_000), goal: 250 },
    ];
  } finally {
    await browser.close();
  }
}
