import { describe, expect, it } from "vitest";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { baselineRefusal, changeOfWhole, outlyingPlaces } from "@/lib/quality/alarm/starting-stretch";

const random = createSeededGenerator(3);
const VALUES = Array.from({ length: 100 }, () => 10 + random.normal());

describe("baselineRefusal", () => {
  it("takes a hundred different values", () => {
    expect(baselineRefusal(VALUES)).toBeNull();
  });

  it("refuses twelve frames, equal values, and a gauge of 10 µm on a spread of 2", () => {
    expect(baselineRefusal(VALUES.slice(0, 12))).toBe("too-few-frames");
    expect(baselineRefusal(VALUES.map(() => 10))).toBe("all-equal");
    expect(baselineRefusal(VALUES.map((value) => 10 * Math.round((20 * value + 4) / 100)))).toBe("not-resolved");
  });

  it("takes a gauge whose step is one standard deviation", () => {
    expect(baselineRefusal(VALUES.map(Math.round))).toBeNull();
  });
});

it("lists values far from the others", () => {
  // outer fences of 1 to 9 with 40: quartiles 3 and 8 (by hand), reach 15
  expect(outlyingPlaces([1, 2, 3, 4, 40, 5, 6, 7, 8, 9])).toEqual([4]);
  expect(outlyingPlaces(VALUES)).toEqual([]);
});

describe("changeOfWhole", () => {
  it("finds where a series changed, whatever single values do", () => {
    const stepped = VALUES.map((value, at) => (at >= 60 ? value + 2 : value));
    const change = changeOfWhole(
      stepped.map((value, at) => (at === 20 ? 1e6 : value)),
      1e-4,
    );
    expect(change?.kind).toBe("step");
    expect(Math.abs((change?.first ?? 0) - 60)).toBeLessThanOrEqual(2);
  });

  it("finds none in unchanged, equal and very short series", () => {
    expect(changeOfWhole(VALUES, 1e-3)).toBeNull();
    expect(changeOfWhole(new Array<number>(50).fill(1), 0.5)).toBeNull();
    expect(changeOfWhole([1, 2, 3], 0.5)).toBeNull();
  });

  it("calls an unchanged series changed no more often than asked", () => {
    const generator = createSeededGenerator(9);
    let called = 0;
    for (let run = 0; run < 400; run++) {
      const values = Array.from({ length: 80 }, () => Math.hypot(generator.normal(), generator.normal()));
      if (changeOfWhole(values, 0.05) !== null) called += 1;
    }
    // 20 expected at most, 4.4 standard deviation
    expect(called).toBeLessThanOrEqual(33);
  });
});
