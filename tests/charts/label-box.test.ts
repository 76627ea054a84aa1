import { describe, expect, it } from "vitest";
import { boxesOverlap, labelWidth } from "@/lib/charts/label-box";

// Widths in em of Sofia Sans Semi Condensed 5.3.0 at weight 700 with tabular figures, measured in Chromium 156 with measureText.
const MEASURED_EM: readonly (readonly [string, number])[] = [
  ["2 mm  ø 40.980", 14 * 0.46],
  ["1.5 mm  0 of 4", 14 * 0.416],
  ["1.5 mm deep", 11 * 0.482],
  ["40.961", 6 * 0.485],
  ["86.5 nominal width", 18 * 0.443],
  ["mean 0.030 mm", 13 * 0.519],
  ["lower control limit", 19 * 0.401],
];

describe("the box of a label", () => {
  it("is never narrower than the text and at most a fifth wider", () => {
    for (const [text, em] of MEASURED_EM) {
      expect(labelWidth(text, 100) / 100, text).toBeGreaterThanOrEqual(em);
      expect(labelWidth(text, 100) / 100, text).toBeLessThanOrEqual(em * 1.2);
    }
  });
  it("does not overlap a neighbour that it only touches", () => {
    const box = { left: 0, top: 0, right: 10, bottom: 10 };
    expect(boxesOverlap(box, { ...box, left: 10, right: 20 })).toBe(false);
    expect(boxesOverlap(box, { ...box, left: 9.9, right: 20 })).toBe(true);
  });
});
