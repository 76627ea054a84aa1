import { describe, expect, it } from "vitest";
import { enterFollowed, followWear, ordinarySlope, withoutWear } from "@/lib/quality/alarm/follow-wear";

// 2 um over 300 frames with a sd of 1.33 um is the wear of a usual life
const SD = 2 / 1.5;
const worn = (from: number, to: number, slope: number) =>
  Array.from({ length: to - from }, (_, at) => ({ age: from + at + 1, value: 40 + slope * (from + at + 1) }));

describe("followWear", () => {
  it("takes half of usual wear for granted as long as the frames say little, and the frames where they say much", () => {
    const usual = -2 / 300;
    const young = ordinarySlope(followWear(worn(0, 50, usual), SD, 0.3));
    expect(young).toBeGreaterThan(usual);
    expect(young).toBeLessThan(usual / 3);
    const old = ordinarySlope(followWear(worn(0, 290, usual), SD, 0.3));
    expect(Math.abs(old / usual - 1)).toBeLessThan(0.1);
  });

  it("follows no growth of a bore and no wear that is twice as fast as usual", () => {
    expect(ordinarySlope(followWear(worn(0, 200, 0.05), SD, 0))).toBe(0);
    expect(ordinarySlope(followWear(worn(0, 200, -0.2), SD, 0))).toBeCloseTo(-4 / 300, 12);
  });

  it("takes off what was worn since the middle of the starting stretch", () => {
    const usual = -2 / 300;
    const followed = enterFollowed(followWear(worn(0, 50, usual), SD, 0), worn(50, 290, usual));
    const [first, last] = [worn(0, 1, usual)[0], worn(289, 290, usual)[0]];
    if (!first || !last) throw new Error("no frames");
    expect(Math.abs(withoutWear(followed, first) - withoutWear(followed, last))).toBeLessThan(0.1);
  });
});
