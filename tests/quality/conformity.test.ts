import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { conformity, guardBand, marginToLimits } from "@/lib/quality/conformity";
import { VERDICTS } from "@/lib/quality/verdict-words";
import reference from "@/tests/reference/seat-geometry.json";

const { lsl, usl, U, acceptFrom, acceptTo, rejectBelow, rejectAbove } = reference.iso14253;
const limits = { lower: lsl, upper: usl, guard: U };

describe("conformity by ISO 14253-1, case 46H7", () => {
  it("accepts inside the reduced limits, their edges included", () => {
    for (const value of [acceptFrom, acceptTo, 46.0125]) expect(conformity(value, limits), `${value}`).toBe("conforms");
    for (const value of [acceptFrom - 1e-6, acceptTo + 1e-6]) expect(conformity(value, limits)).toBe("not proven");
  });

  it("rejects outside the widened limits, their edges not included", () => {
    for (const value of [rejectBelow, rejectAbove]) expect(conformity(value, limits), `${value}`).toBe("not proven");
    for (const value of [rejectBelow - 1e-6, rejectAbove + 1e-6])
      expect(conformity(value, limits)).toBe("does not conform");
  });

  it("is not moved by binary rounding at decimal edges", () => {
    // 40.950 + 0.0059 and 41.000 - 0.0059 by hand.
    const bore = { lower: 40.95, upper: 41, guard: 0.0059 };
    expect(conformity(40.9559, bore)).toBe("conforms");
    expect(conformity(40.9941, bore)).toBe("conforms");
    expect(conformity(40.9441, bore)).toBe("not proven");
    expect(conformity(41.0059, bore)).toBe("not proven");
    // Every decimal thousandth at an edge behaves like its exact decimal.
    for (let i = 0; i < 1000; i += 1) {
      const lower = Number((40 + i / 1000).toFixed(3));
      const edge = Number((40 + i / 1000 + 0.0059).toFixed(4));
      expect(conformity(edge, { lower, upper: 42, guard: 0.0059 }), `${edge}`).toBe("conforms");
    }
  });

  it("guards a one-sided limit on its side only", () => {
    const form = { lower: null, upper: 40, guard: 4.4 };
    expect(conformity(0, form)).toBe("conforms");
    expect(conformity(35.6, form)).toBe("conforms");
    expect(conformity(35.7, form)).toBe("not proven");
    expect(conformity(44.4, form)).toBe("not proven");
    expect(conformity(44.5, form)).toBe("does not conform");
    expect(conformity(-1e9, { lower: null, upper: null, guard: 1 })).toBe("conforms");
  });

  it("decides at the limit itself under simple acceptance", () => {
    const simple = { lower: 40.95, upper: 41, guard: guardBand("simple", 0.0059) };
    expect(conformity(40.95, simple)).toBe("conforms");
    expect(conformity(40.9499, simple)).toBe("does not conform");
  });

  it("takes U, 1.65 u_c or nothing as guard band", () => {
    // ISO 14253-1, 2017 edition: U at k = 2, so 1.65 u_c = 0.825 U.
    expect(guardBand("guard-u", 12)).toBe(12);
    expect(guardBand("guard-1.65uc", 12)).toBeCloseTo(9.9, 12);
    expect(guardBand("simple", 12)).toBe(0);
  });

  it("never gets better when the uncertainty grows, and follows the scale", () => {
    const number = fc.double({ min: -10, max: 10, noNaN: true });
    const width = fc.double({ min: 0.1, max: 5, noNaN: true });
    fc.assert(
      fc.property(number, width, width, fc.constantFrom(1e-3, 0.1, 10, 1e3), (value, guard, more, scale) => {
        const narrow = conformity(value, { lower: -3, upper: 3, guard });
        const wide = conformity(value, { lower: -3, upper: 3, guard: guard + more });
        if (wide !== "not proven") expect(narrow).toBe(wide);
        expect(conformity(value * scale, { lower: -3 * scale, upper: 3 * scale, guard: guard * scale })).toBe(narrow);
        expect(VERDICTS).toContain(narrow);
      }),
      { seed: 41, numRuns: 300 },
    );
  });

  it("measures the margin to the nearest limit", () => {
    expect(marginToLimits(4, 1, 10)).toBe(3);
    expect(marginToLimits(12, 1, 10)).toBe(-2);
    expect(marginToLimits(12, null, null)).toBe(Infinity);
  });
});
