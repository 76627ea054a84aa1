import { describe, expect, it } from "vitest";
import { isFramePlanned } from "@/lib/core/sampling/planned-frames";

// By definition of the plan's own words; common practice, no source.
describe("isFramePlanned", () => {
  const asked = (planned: Parameters<typeof isFramePlanned>[0]) =>
    Array.from({ length: 12 }, (_, place) => place + 1).filter((position) => isFramePlanned(planned, position, null));

  it("asks for all, or for every n-th with or without the first", () => {
    expect(asked({ kind: "all" })).toHaveLength(12);
    expect(asked({ kind: "every", n: 5, firstOff: true })).toEqual([1, 5, 10]);
    expect(asked({ kind: "every", n: 5, firstOff: false })).toEqual([5, 10]);
  });

  it("asks for what was drawn, and for everything while nothing is drawn", () => {
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, true)).toBe(true);
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, false)).toBe(false);
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, null)).toBe(true);
  });
});
