import { describe, expect, it } from "vitest";
import { drawChartPicture } from "@/lib/charts/chart-picture";
import { EMPTY_SPEC, type ChartSpec } from "@/lib/charts/chart-spec";
import { SvgCanvas } from "@/lib/charts/svg-canvas";

const SIZE = { width: 800, height: 400 };

function drawn(spec: Partial<ChartSpec>, more: { title?: string; finding?: string; stamp?: string } = {}): string {
  const canvas = new SvgCanvas();
  drawChartPicture(canvas, { spec: { ...EMPTY_SPEC, ...spec }, title: "", finding: "", stamp: "", ...more }, SIZE);
  return canvas.toSvg(SIZE, "a chart");
}

const points = (y: readonly number[], flagged = false): ChartSpec["series"][number] => ({
  name: "frames",
  draw: "points",
  tone: "ink",
  x: y.map((_, index) => index),
  y,
  flagged,
});

describe("a chart as a picture", () => {
  it("puts points where their values are: the ends of both axes at the corners of the plot", () => {
    const svg = drawn({ xMax: 1, series: [points([0, 1])] });
    // No labels: 8 px at the left, 18 at the right, 10 above, 6 below (chartRoom).
    const circles = [...svg.matchAll(/<path d="M([\d.]+) ([\d.]+)a([\d.]+) /g)].map(([, x, y, r]) => [
      Number(x) + Number(r),
      Number(y),
    ]);
    expect(circles).toEqual([
      [8, 394],
      [782, 10],
    ]);
  });

  it("has title, finding, limits with their values, events and stamp as text that can be searched", () => {
    const svg = drawn(
      {
        levels: [{ value: 0.9, text: "41.000", name: "limit of size", weight: "limit" }],
        events: [{ at: 0.5, text: "reamer R-7" }],
      },
      { title: "Mean diameter, mm", finding: "down 4 µm", stamp: "saved 30 Nov" },
    );
    for (const text of ["Mean diameter, mm", "down 4 µm", "41.000", "limit of size", "reamer R-7", "saved 30 Nov"])
      expect(svg).toContain(`>${text}</text>`);
  });

  it("loses no flagged point however many there are, and keeps the extremes of the others", () => {
    const values = Array.from({ length: 20_000 }, (_, index) => (index === 7777 ? 1 : 0.5));
    const plain = drawn({ xMax: 20_000, series: [points(values)] });
    expect(plain).toMatch(/<path d="M[\d.]+ 10a/);
    const flagged = drawn({ xMax: 3000, series: [points(values.slice(0, 3000), true)] });
    expect(flagged.match(/stroke="#93406b"/g)).toHaveLength(3000);
  });

  it("cannot be left by what a text holds", () => {
    const evil = `</text><script>alert("1")</script>&\u0000`;
    const svg = drawn({ events: [{ at: 0, text: evil }] }, { title: evil, stamp: evil });
    expect(svg).not.toContain("<script>");
    expect(svg).not.toContain("\u0000");
    expect(svg).toContain("&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt;&amp;");
  });

  it("clips what lies outside of the plot, and only that", () => {
    const svg = drawn({ series: [points([-5])], levels: [{ value: 0.5, text: "1", name: "", weight: "mean" }] });
    const [clipped] = /<path d="M[^"]*" fill="#16212b" clip-path="url\(#clip1\)"/.exec(svg) ?? [];
    expect(clipped).toBeDefined();
    expect(svg).toMatch(/<text[^>]*>1<\/text>/);
    expect(/<text[^>]*clip-path/.exec(svg)).toBeNull();
  });
});
