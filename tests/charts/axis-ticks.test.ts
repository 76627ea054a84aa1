import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { niceTicks, rangeOf, rowsOfTags, spreadLabels } from "@/lib/charts/axis-ticks";
import { thinPoints } from "@/lib/charts/thin-points";

// Expected values by hand.
describe("ticks", () => {
  it("stand at steps of 1, 2 or 5 without binary crumbs", () => {
    expect(niceTicks(45.947, 46.003, 6)).toEqual([45.95, 45.96, 45.97, 45.98, 45.99, 46]);
    expect(niceTicks(0, 1, 5)).toEqual([0, 0.2, 0.4, 0.6, 0.8, 1]);
    expect(niceTicks(5, 5, 5)).toEqual([5]);
  });
  it("get a range even for no values, one value and equal values", () => {
    expect(rangeOf([], 0.1)).toEqual({ min: 0, max: 1 });
    const one = rangeOf([41], 0);
    expect(one.min).toBeLessThanOrEqual(41);
    expect(one.max).toBeGreaterThanOrEqual(41);
  });
});

describe("labels at the right end", () => {
  it("stay where they are when there is room", () => {
    expect(spreadLabels([10, 50, 90], 18, 0, 100)).toEqual([10, 50, 90]);
  });
  it("are moved apart in order, and inside the plot", () => {
    expect(spreadLabels([52, 50, 51], 18, 0, 100)).toEqual([86, 50, 68]);
    expect(spreadLabels([95, 98], 18, 0, 100)).toEqual([82, 100]);
  });
  it("are never nearer than the gap where they fit at all", () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0, max: 400, noNaN: true }), { minLength: 1, maxLength: 8 }), (wanted) => {
        const placed = [...spreadLabels(wanted, 18, 0, 400)].sort((a, b) => a - b);
        placed.slice(1).forEach((at, index) => expect(at - (placed[index] ?? 0)).toBeGreaterThanOrEqual(18 - 1e-9));
      }),
      { seed: 41 },
    );
  });
  it("hang event tags in as many rows as they need", () => {
    const tags = [
      { left: 0, width: 100 },
      { left: 50, width: 100 },
      { left: 110, width: 40 },
      { left: 400, width: 40 },
    ];
    expect(rowsOfTags(tags, 4)).toEqual([0, 1, 0, 0]);
  });
});

describe("thinning", () => {
  it("leaves few points alone", () => {
    expect(thinPoints([3, 1, 2], 5)).toEqual([0, 1, 2]);
  });
  it("keeps the ends, the order, and the extremes of every bucket", () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 300, maxLength: 900 }),
        (values) => {
          const kept = thinPoints(values, 40);
          expect(kept[0]).toBe(0);
          expect(kept.at(-1)).toBe(values.length - 1);
          expect(kept.length).toBeLessThanOrEqual(82);
          kept.slice(1).forEach((at, index) => expect(at).toBeGreaterThan(kept[index] ?? 0));
          const drawn = kept.map((at) => values[at] ?? 0);
          expect(Math.max(...drawn)).toBe(Math.max(...values));
          expect(Math.min(...drawn)).toBe(Math.min(...values));
        },
      ),
      { seed: 41 },
    );
  });

  it("loses no point outside a limit, however many there are in one bucket", () => {
    const outside = [5000, 5001, 5002, 5003, 70_000];
    const values = Array.from({ length: 100_000 }, (_, at) => (outside.includes(at) ? 5 + at / 1e6 : Math.sin(at)));
    const kept = thinPoints(values, 400, outside);
    expect(kept.length).toBeLessThanOrEqual(802 + outside.length);
    for (const at of outside) expect(kept).toContain(at);
    kept.slice(1).forEach((at, index) => expect(at).toBeGreaterThan(kept[index] ?? 0));
  });
});
