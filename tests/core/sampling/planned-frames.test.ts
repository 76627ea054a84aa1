import { describe, expect, it } from "vitest";
import { isFramePlanned } from "@/lib/core/sampling/planned-frames";

// By definition of the plan's own words; common practice, no source.
describe("isFramePlanned", () => {
  const asked = (planned: Parameters<typeof isFramePlanned>[0]) =>
    Array.from({ length: 12 }, (_, place) => place + 1).filter((position) =>
      isFramePlanned(planned, position, 12, null),
    );

  it("asks for all, or for every n-th with or without the first", () => {
    expect(asked({ kind: "all" })).toHaveLength(12);
    expect(asked({ kind: "every", n: 5, firstOff: true })).toEqual([1, 5, 10]);
    expect(asked({ kind: "every", n: 5, firstOff: false })).toEqual([5, 10]);
  });

  it("asks for the first frame of a batch too small to have an n-th", () => {
    const small = [1, 2, 3].filter((position) => isFramePlanned({ kind: "every", n: 5 }, position, 3, null));
    expect(small).toEqual([1]);
  });

  it("asks for what was drawn, and for everything while nothing is drawn", () => {
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, 12, true)).toBe(true);
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, 12, false)).toBe(false);
    expect(isFramePlanned({ kind: "drawn", size: 3 }, 1, 12, null)).toBe(true);
  });
});
