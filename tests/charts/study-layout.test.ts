import { describe, expect, it } from "vitest";
import { studyLayout } from "@/lib/charts/study-layout";

describe("studyLayout", () => {
  // By hand: parts 41.010 and 41.000 mm; A reads 1 µm below, B 1 µm above their means, twice each.
  const layout = studyLayout(
    {
      parts: ["large", "small"],
      inspectors: ["A", "B"],
      trials: ["1", "2"],
      values: [41.009, 41.009, 41.011, 41.011, 40.999, 40.999, 41.001, 41.001],
    },
    1000,
  );

  it("orders parts by size and draws each reading less the mean of its part", () => {
    expect(layout.columns.map(({ part }) => part)).toEqual(["small", "large"]);
    expect(layout.rows.map(({ mean }) => Math.round(mean * 1e6) / 1e6)).toEqual([-1, 1]);
    const [first, second] = layout.rows;
    for (const { y } of first?.points ?? []) expect(y).toBeGreaterThan(first?.zeroY ?? 0);
    for (const { y } of second?.points ?? []) expect(y).toBeLessThan(second?.zeroY ?? 0);
  });

  it("keeps everything inside its rows, and leaves out names that would meet", () => {
    for (const { points, top, bottom } of layout.rows)
      for (const { x, y } of points) {
        expect(x).toBeGreaterThan(layout.left);
        expect(x).toBeLessThan(layout.right);
        expect(y).toBeGreaterThanOrEqual(top);
        expect(y).toBeLessThanOrEqual(bottom);
      }
    const many = studyLayout(
      {
        parts: Array.from({ length: 40 }, (_, at) => `C41-0${1000 + at}`),
        inspectors: ["A", "B"],
        trials: ["1", "2"],
        values: Array.from({ length: 160 }, (_, at) => at % 7),
      },
      1,
    );
    expect(many.columns.filter(({ isNamed }) => isNamed).length).toBeLessThan(12);
  });
});
