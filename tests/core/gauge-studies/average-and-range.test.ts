import { describe, expect, it } from "vitest";
import { averageAndRange } from "@/lib/core/gauge-studies/average-and-range";
import { rangeConstant } from "@/lib/core/gauge-studies/range-constant";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/gauge-studies.json";
import { layoutOf, PRINTED } from "./gauge-study-cases";

const cases = reference.cases as unknown as {
  expected: Record<string, number>;
  computed: Record<string, Record<string, number>> & { R_bar_bar: number; X_diff: number; R_p: number };
}[];

describe("rangeConstant", () => {
  it("gives the constants of the printed tables, exact", () => {
    const constants = cases[2]?.computed as unknown as Record<string, Record<string, number>>;
    for (const [size, value] of Object.entries(constants.K2K3 ?? {}))
      expectDigits(1 / rangeConstant(Number(size), 1), value, 9);
    for (const [size, value] of Object.entries(constants.K1 ?? {}))
      expectDigits(1 / rangeConstant(Number(size), 30), value, 9);
  });

  it("takes the number of samples into account up to fifteen", () => {
    // Duncan, table D3, d2* of 3 values and 5 samples: 1.74; of 2 values and 10 samples: 1.16 (from memory).
    expect(Math.abs(rangeConstant(3, 5) - 1.74)).toBeLessThan(0.005);
    expect(Math.abs(rangeConstant(2, 10) - 1.16)).toBeLessThan(0.005);
    expect(() => rangeConstant(3, 0)).toThrow(/samples/);
  });
});

describe("averageAndRange", () => {
  it("gives the printed study to its digits", () => {
    const estimate = averageAndRange(layoutOf(PRINTED));
    if (!estimate.ok) throw new Error(estimate.reason);
    const { sds, distinctCategories, meanRange, rangeOfInspectors, rangeOfParts, beyond, rangeLimit } = estimate.value;
    const [first] = cases;
    const exact = first?.computed.with_exact_K ?? {};
    expectDigits(meanRange, first?.computed.R_bar_bar ?? 0, 14);
    expectDigits(rangeOfInspectors, first?.computed.X_diff ?? 0, 13);
    expectDigits(rangeOfParts, first?.computed.R_p ?? 0, 13);
    for (const [key, name] of [
      ["repeatability", "EV"],
      ["reproducibility", "AV"],
      ["gauge", "GRR"],
      ["part", "PV"],
      ["total", "TV"],
    ] as const) {
      expectDigits(sds[key], exact[name] ?? 0, 9);
      expect(Math.abs(sds[key] - (first?.expected[name] ?? 0))).toBeLessThan(2e-4);
    }
    // Printed with 1.41 for the root of 2.
    expectDigits((distinctCategories ?? 0) * (1.41 / Math.SQRT2), exact.ndc_raw ?? 0, 9);
    // The manual prints 0.880 with D4 2.58; two readings of inspector B lie beyond it.
    expect(Math.abs(rangeLimit - 0.88)).toBeLessThan(0.001);
    expect(beyond.map(({ part, inspector }) => part + inspector)).toEqual(["4B"]);
  });

  it("counts a reproducibility that is no larger than repeatability gives as 0", () => {
    const readings = PRINTED.map((each, index) => ({
      ...each,
      inspector: String(Math.floor(index / 10) % 3),
      trial: each.inspector,
    }));
    const estimate = averageAndRange(layoutOf(readings));
    if (!estimate.ok) throw new Error(estimate.reason);
    expect(estimate.value.isReproducibilityZero).toBe(true);
    expect(estimate.value.sds.reproducibility).toBe(0);
  });
});
