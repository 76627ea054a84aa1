import { describe, expect, it } from "vitest";
import { regionSide } from "@/lib/core/control/alarm/alarm-region";
import { expectDigits } from "@/tests/helpers/expect-digits";

describe("regionSide", () => {
  it("takes the zero check where it is nearer than the drawing", () => {
    // by hand: d1 = min(9.7, 3) = 3; d0 = max(0.6, 3 - 1.5 x 1.31)
    const side = regionSide({ toLimit: 9.7, toMatter: 3, floor: 0.6, sd: 1.31 });
    expect(side).toMatchObject({ outOfControl: 3, binds: "change that matters", noReserve: false });
    expectDigits(side.inControl, 1.035, 12);
  });

  it("takes the drawing where it is nearer, says that the zero check is too wide then, and never takes less than the floor and one sd", () => {
    // by hand: d1 = 2.4, d0 = 2.4 - 1.05
    const side = regionSide({ toLimit: 2.4, toMatter: 3, floor: 0.6, sd: 0.7 });
    expect(side).toMatchObject({ outOfControl: 2.4, binds: "limit", noReserve: true });
    expectDigits(side.inControl, 1.35, 12);
    // by hand: a limit at 0.1 is under 0 + 0.39; d1 = 0.39, d0 = max(0, 0.39 - 0.585)
    const tight = regionSide({ toLimit: 0.1, toMatter: null, floor: 0, sd: 0.39 });
    expect(tight).toEqual({ outOfControl: 0.39, inControl: 0, binds: "ordinary differences", noReserve: true });
  });

  it("knows no outer edge but ordinary differences without limit and change that matters", () => {
    expect(regionSide({ toLimit: null, toMatter: null, floor: 2, sd: 1 })).toEqual({
      outOfControl: 3,
      inControl: 2,
      binds: "ordinary differences",
      noReserve: false,
    });
  });

  it("says no reserve where rare values lie beyond the limit already", () => {
    expect(regionSide({ toLimit: -1, toMatter: null, floor: 0, sd: 1 }).noReserve).toBe(true);
  });

  it("refuses what has no spread and what is no number", () => {
    const good = { toLimit: 1, toMatter: null, floor: 0, sd: 1 };
    expect(() => regionSide({ ...good, sd: 0 })).toThrow("sd must be above 0");
    expect(() => regionSide({ ...good, floor: -1 })).toThrow("floor must be >= 0");
    expect(() => regionSide({ ...good, toLimit: Number.NaN })).toThrow("finite or null");
    expect(() => regionSide({ ...good, toMatter: 0 })).toThrow("above 0 or null");
  });
});
