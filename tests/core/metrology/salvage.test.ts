import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { compoundSalvage, facingSalvage, reamSalvage } from "@/lib/core/metrology/salvage";

describe("reamSalvage", () => {
  it("is possible up to the limit, with the margin", () => {
    const option = reamSalvage(40.984, 41);
    expect(option).toMatchObject({ possible: true, value: 40.984, limit: 41 });
    expect(option.estimable && option.marginUm).toBeCloseTo(16, 6);
    expect(reamSalvage(41, 41)).toMatchObject({ possible: true });
    expect(reamSalvage(41.0001, 41)).toMatchObject({ possible: false });
  });
});

describe("facingSalvage", () => {
  // Source of 0.5 mm a side: common practice, from memory.
  const input = { smallestWidthMm: 86.45, minimumWidthMm: 86.3, faceRunOutUm: [60, 40] as const };

  it("takes both run-outs from the smallest width", () => {
    const option = facingSalvage(input);
    expect(option).toMatchObject({ possible: true });
    expect(option.estimable && option.marginUm).toBeCloseTo(50, 6);
    expect(facingSalvage({ ...input, smallestWidthMm: 86.39 })).toMatchObject({ possible: false });
  });

  it("is not possible where more than the usual most would come off a side", () => {
    expect(facingSalvage({ ...input, smallestWidthMm: 90, faceRunOutUm: [600, 0] })).toMatchObject({ possible: false });
  });
});

describe("compoundSalvage", () => {
  // Source of the range 0.01-0.13 mm, best 0.05-0.13: published by makers of retaining compounds.
  it.each([
    [[41.06, 41.08], "fits", true],
    [[41.03, 41.05], "fits-below-best", true],
    [[41.01, 41.02], "no-gap", false],
    [[41.14, 41.2], "needs-sleeve", false],
  ] as const)("says of a seat of %j mm: %s", (seat, finding, possible) => {
    expect(compoundSalvage(seat, [40.99, 41.005])).toMatchObject({ finding, possible });
  });

  it("names the end of the gap that decides", () => {
    const option = compoundSalvage([41.14, 41.2], [41, 41.01]);
    expect(option.estimable && option.limit).toBe(0.13);
    expect(option.gapMm?.[1]).toBeCloseTo(0.2, 9);
    expect(option.estimable && option.marginUm).toBeCloseTo(-70, 6);
  });
});

describe("salvage on bad input", () => {
  it("refuses NaN, sizes below zero and ranges the wrong way round", () => {
    expect(() => reamSalvage(NaN, 41)).toThrow(CoreError);
    expect(() => reamSalvage(-41, 41)).toThrow(CoreError);
    expect(() => facingSalvage({ smallestWidthMm: 86, minimumWidthMm: 86, faceRunOutUm: [NaN, 0] })).toThrow(CoreError);
    expect(() => facingSalvage({ smallestWidthMm: 86, minimumWidthMm: 86, faceRunOutUm: [-1, 0] })).toThrow(CoreError);
    expect(() => compoundSalvage([41.1, 41], [40.9, 41])).toThrow(CoreError);
    expect(() => compoundSalvage([41, 41.1], [40.9, Infinity])).toThrow(CoreError);
  });
});
