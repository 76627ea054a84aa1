import { describe, expect, it } from "vitest";
import { zeroAcceptancePlan } from "@/lib/core/sampling/zero-acceptance-plan";

/** Independent method: multiplies the chances of each draw, and tries one sample size after the other. */
function smallest(lot: number, marked: number, risk: number): number {
  let none = 1;
  for (let n = 1; n <= lot; n += 1) {
    none *= Math.max(0, lot - marked - n + 1) / (lot - n + 1);
    if (none <= risk) return n;
  }
  return lot;
}

describe("zeroAcceptancePlan", () => {
  it.each([
    [50, 10, 5],
    [1000, 1, 10],
    [1000, 0.7, 7],
    [1000, 0.75, 8],
    [200, 2.5, 5],
    [13, 6.5, 1],
    [2, 100, 2],
    [500, 0.01, 1],
  ])("of %i at %d percent draws what trying every size gives", (lot, index, marked) => {
    for (const risk of [0.1, 0.05])
      expect(zeroAcceptancePlan(lot, index, risk)).toEqual({ n: smallest(lot, marked, risk), ac: 0, re: 1, marked });
  });

  it("refuses a lot of one, a tolerance that is none and a risk that is none", () => {
    expect(() => zeroAcceptancePlan(1, 1)).toThrow("lot must be");
    for (const index of [0, -1, 101, Number.NaN]) expect(() => zeroAcceptancePlan(50, index)).toThrow("index must be");
    expect(() => zeroAcceptancePlan(50, 1, 1)).toThrow("risk must be");
  });
});
