import { describe, expect, it } from "vitest";
import { outlyingValues } from "@/lib/core/control/causes/outlying-values";
import reference from "@/tests/reference/outlying-values.json";

describe("outlyingValues", () => {
  it("takes the steps of the handbook's example, and finds as many as it does", () => {
    const [example] = reference.cases;
    if (example === undefined) throw new Error("no reference");
    const { steps, count } = outlyingValues(example.input.values, example.input.most, example.input.alpha);
    // Printed to three decimals, cut rather than rounded.
    steps.forEach(({ distance, bound }, at) => {
      expect(Math.abs(distance - (example.expected.distances[at] ?? 0))).toBeLessThan(0.00101);
      expect(Math.abs(bound - (example.expected.bounds[at] ?? 0))).toBeLessThan(0.00101);
    });
    expect(steps).toHaveLength(10);
    expect(count).toBe(example.expected.count);
  });

  it("sees two that hide each other, on either side", () => {
    const steady = Array.from({ length: 30 }, (_, at) => Math.sin(at * 2.4));
    const { steps, count } = outlyingValues([...steady, 9, -9], 6, 0.05);
    expect(
      steps
        .slice(0, count)
        .map(({ index }) => index)
        .toSorted(),
    ).toEqual([30, 31]);
  });

  it("says nothing of values that are alike, and refuses what cannot be judged", () => {
    expect(outlyingValues([1, 1, 1, 1], 2, 0.05)).toEqual({ steps: [], count: 0 });
    expect(() => outlyingValues([1, 2], 1, 0.05)).toThrow(/at least 3/);
    expect(() => outlyingValues([1, 2, 3], 0, 0.05)).toThrow(/at least 1/);
    expect(() => outlyingValues([1, 2, 3], 1, 1)).toThrow(/alpha/);
    expect(() => outlyingValues([1, Number.NaN, 3], 1, 0.05)).toThrow(/finite/);
  });
});
