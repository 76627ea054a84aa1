import { describe, expect, it } from "vitest";
import { absorptionTimes } from "@/lib/core/numerics/absorption-times";
import { expectDigits } from "@/tests/helpers/expect-digits";

describe("absorptionTimes", () => {
  it("gives the mean times of a chain of two states", () => {
    // by hand: t1 = 1 + t1 / 2 + t2 / 4, t2 = 1 + t1 / 4 + t2 / 4 -> t1 = 3.2, t2 = 2.4
    const times = absorptionTimes(Float64Array.of(0.5, 0.25, 0.25, 0.25), Float64Array.of(0.25, 0.5));
    expectDigits(times[0]!, 3.2, 14);
    expectDigits(times[1]!, 2.4, 14);
  });

  it("keeps its digits where leaving is all but impossible", () => {
    // by hand: two states alike that leave with chance 1e-30 a step -> 1e30 steps
    const times = absorptionTimes(Float64Array.of(0.5, 0.5, 0.5, 0.5), Float64Array.of(1e-30, 1e-30));
    expectDigits(times[0]!, 1e30, 14);
    expectDigits(times[1]!, 1e30, 14);
  });

  it("refuses a chain that never leaves, and a matrix that is not square", () => {
    const never = () => absorptionTimes(Float64Array.of(0.5, 0.5, 0.5, 0.5), Float64Array.of(0, 0));
    expect(never).toThrow("never ends");
    expect(() => absorptionTimes(Float64Array.of(1, 0), Float64Array.of(0, 1))).toThrow("4 entries");
  });
});
