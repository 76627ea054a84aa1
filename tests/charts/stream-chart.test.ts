import { describe, expect, it } from "vitest";
import { chartRoom, toChartConfig, type ChartPalette } from "@/lib/charts/chart-config";
import { alignCharts, chartTable } from "@/lib/charts/chart-spec";
import { csvTable } from "@/lib/schemas/csv-row";
import { histogramChart } from "@/lib/charts/histogram-chart";
import { spreadChart, streamChart, type StreamChartInput } from "@/lib/charts/stream-chart";

const tones = [
  "ink",
  "ink-2",
  "ink-3",
  "muted",
  "blue",
  "signal",
  "no",
  "maybe",
  "ok",
  "sheet",
  "hair",
  "hair-2",
  "signal-text",
  "maybe-wash",
];
const palette = {
  ...Object.fromEntries(tones.map((tone) => [tone, tone])),
  fontFamily: "f",
  monoFamily: "m",
} as unknown as ChartPalette;

const input: StreamChartInput = {
  frame: [1, 2, 3, 4],
  value: [45.978, 45.981, 45.974, 45.962],
  serial: ["A46-1", "A46-2", "A46-3", "A46-4"],
  unit: "mm",
  decimals: 3,
  lower: 45.95,
  upper: 46,
  guard: 0.0061,
  centre: 45.978,
  lowerControl: 45.969,
  upperControl: 45.987,
  baseline: { from: 1, to: 2 },
  flagged: [{ index: 3, remark: "beyond the lower control limit" }],
  events: [{ at: 2, text: "reamer R-17 in" }],
};

// Values are made up for the test; texts and places follow from the input.
describe("the chart of a stream", () => {
  const spec = streamChart(input);
  it("writes each level with its value and its name", () => {
    expect(spec.levels.map((level) => `${level.text} ${level.name}`)).toEqual([
      "46.000 limit of size",
      "45.987 control limit",
      "45.978 baseline mean",
      "45.969 control limit",
      "45.950 limit of size",
    ]);
  });
  it("shows limits and guard bands even where no frame comes near", () => {
    expect(spec.yMin).toBeLessThan(45.95 - 0.0061);
    expect(spec.yMax).toBeGreaterThan(46 + 0.0061);
  });
  it("draws flagged frames as a series of their own with serial and reason", () => {
    const flagged = spec.series.find((series) => series.flagged);
    expect(flagged).toMatchObject({
      x: [4],
      y: [45.962],
      labels: ["A46-4"],
      remarks: ["beyond the lower control limit"],
    });
  });
  it("still shows each frame outside a limit as a point where a line stands for all others", () => {
    const outside = [3000, 3001, 3002];
    const frame = Array.from({ length: 6000 }, (_, at) => at + 1);
    const value = frame.map((at) => (outside.includes(at - 1) ? 45.94 - at / 1e7 : 45.975 + 0.002 * Math.sin(at)));
    const many = streamChart({ ...input, frame, value, serial: frame.map(String), baseline: null, flagged: [] });
    const [frames] = toChartConfig(many, palette, 600).data.datasets;
    const drawn = frames?.data as unknown as { at: number }[];
    const radii = (frames as unknown as { pointRadius: readonly number[] }).pointRadius;
    expect(drawn.length).toBeLessThan(1300);
    const seen = drawn.filter((_, index) => (radii[index] ?? 0) > 0).map(({ at }) => at);
    expect(seen).toEqual(outside);
  });
  it("configures Chart.js without parsing and animation, with the serial in the tooltip", () => {
    const config = toChartConfig(spec, palette, 900);
    expect(config.options).toMatchObject({ parsing: false, normalized: true, animation: false });
    const title = config.options?.plugins?.tooltip?.callbacks?.title as unknown as (items: unknown[]) => string;
    expect(title([{ datasetIndex: 0, raw: { x: 3, y: 45.974, at: 2 } }])).toBe("A46-3");
    const label = config.options?.plugins?.tooltip?.callbacks?.label as unknown as (item: unknown) => string[];
    expect(label({ datasetIndex: 0, raw: { x: 4, y: 45.962, at: 3 } })).toEqual([
      "45.962 mm, frame 4",
      "beyond the lower control limit",
    ]);
  });
  it("thins a long stream to what the width can show but never the flagged frames", () => {
    const n = 20_000;
    const long = streamChart({
      ...input,
      frame: Array.from({ length: n }, (_, index) => index + 1),
      value: Array.from({ length: n }, (_, index) => 45.975 + 0.003 * Math.sin(index)),
      serial: Array.from({ length: n }, (_, index) => `A46-${index}`),
      flagged: Array.from({ length: 1500 }, (_, index) => ({ index: index * 7, remark: "r" })),
    });
    const { datasets } = toChartConfig(long, palette, 600).data;
    expect(datasets[0]?.data.length).toBeLessThanOrEqual(2 * 600 + 2);
    expect(datasets.at(-1)?.data).toHaveLength(1500);
  });
  it("makes a table and a CSV of its numbers, with fields quoted and no formula let in", () => {
    expect(chartTable(spec)).toEqual({
      columns: ["frame", "serial", "value, mm", "remark"],
      rows: [
        [1, "A46-1", 45.978, ""],
        [2, "A46-2", 45.981, ""],
        [3, "A46-3", 45.974, ""],
        [4, "A46-4", 45.962, "beyond the lower control limit"],
      ],
    });
    expect(
      csvTable(
        ["a", "b"],
        [
          ['x,"y"', "=1+1"],
          [-7, "-7 x"],
        ],
      ),
    ).toBe('a,b\r\n"x,""y""",\'=1+1\r\n-7,\'-7 x\r\n');
  });
  it("survives an empty stream and one frame", () => {
    const empty = streamChart({ ...input, frame: [], value: [], serial: [], flagged: [] });
    expect(Number.isFinite(empty.yMin) && Number.isFinite(empty.xMin)).toBe(true);
    const one = streamChart({ ...input, frame: [1], value: [45.97], serial: ["A46-1"], flagged: [] });
    expect(one.xMax).toBeGreaterThan(one.xMin);
  });
});

describe("charts under each other", () => {
  it("share their frames and the room at the right", () => {
    const spread = spreadChart({
      frame: [2, 3, 4],
      value: [3, 7, 12],
      serial: ["a", "b", "c"],
      unit: "µm",
      decimals: 1,
      upperControl: 11,
      centre: 3.4,
    });
    expect(spread.yMin).toBe(0);
    const [above, below] = alignCharts([streamChart(input), spread]);
    if (!above || !below) throw new Error("two charts expected");
    expect(below.xMin).toBe(above.xMin);
    expect(chartRoom(below, 900).right).toBe(chartRoom(above, 900).right);
  });
});

describe("the histogram", () => {
  it("stands between the limits and outlines the later frames", () => {
    const spec = histogramChart({
      edges: [1, 2, 3],
      counts: [4, 6],
      laterCounts: [1, 0],
      lower: 0,
      upper: 5,
      unit: "mm",
      decimals: 1,
    });
    expect(spec.uprights.map((upright) => upright.text)).toEqual(["0.0", "5.0"]);
    expect(spec.series.find((series) => series.draw === "outline")).toMatchObject({
      x: [1, 1, 2, 2, 3, 3],
      y: [0, 1, 1, 0, 0, 0],
    });
    expect(spec.xMin).toBeLessThan(0);
  });
});
