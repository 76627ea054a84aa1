import { describe, expect, it } from "vitest";
import { chartFactors } from "@/lib/core/control/charts/chart-factors";
import { c4Constant, type ChartConstants, chartConstants, d2Star } from "@/lib/core/control/charts/chart-constants";
import { CoreError } from "@/lib/core/errors";
import { normalRangeCdf } from "@/lib/core/distributions/normal-range";
import { agreeingDigits, expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/chart-constants.json";

type Name = Exclude<keyof ChartConstants, "n">;
const ours: Record<string, Name> = { sd_median: "sdMedian", A2_median_chart: "A2Median" };

/** numpy: Gauss-Legendre over the joint density of the two middle values; see chart-constants.source.md. */
const MEDIAN_SD = new Map([
  [4, 0.5460765682898693],
  [6, 0.4634033519317134],
  [10, 0.3719226207643877],
  [20, 0.2709926709435039],
  [100, 0.12445053651724877],
]);

const sizes = Object.keys(reference.expected).map(Number);

describe("chartConstants", () => {
  it.each(sizes)("reproduces the integrals for n = %i", (n) => {
    const constants = chartConstants(n);
    const expected = reference.expected[String(n) as keyof typeof reference.expected];
    for (const [name, value] of Object.entries(expected)) {
      const isMedian = name in ours;
      if (isMedian && n % 2 === 0 && n > 2) continue;
      // the reference prints 10 decimals: 1e-9 absolute
      expect(Math.abs(constants[ours[name] ?? (name as Name)] - value), `${name}(${n})`).toBeLessThan(1e-9);
    }
  });

  it.each(sizes)("agrees with the printed table for n = %i where that is rounded correctly", (n) => {
    const constants = chartConstants(n);
    const published = reference.published[String(n) as keyof typeof reference.published];
    for (const [name, value] of Object.entries(published)) {
      const listed = reference.published_minus_exact_where_rounding_differs.some((r) => r.n === n && r.const === name);
      const tolerance = name === "c4" ? 5e-5 : listed ? 1e-3 : 5.000001e-4;
      expect(Math.abs(constants[name as Name] - value), `${name}(${n})`).toBeLessThanOrEqual(tolerance);
    }
  });

  it.each([...MEDIAN_SD])("gives the standard deviation of the median of %i values", (n, expected) => {
    expectDigits(chartConstants(n).sdMedian, expected, 11);
  });

  it("has the closed forms", () => {
    // closed forms listed in the reference
    expectDigits(chartConstants(2).d2, 2 / Math.sqrt(Math.PI), 13);
    expectDigits(chartConstants(2).d3, Math.sqrt(2 - 4 / Math.PI), 12);
    expectDigits(chartConstants(3).d2, 3 / Math.sqrt(Math.PI), 13);
    expectDigits(chartConstants(2).c4, Math.sqrt(2 / Math.PI), 15);
    // sqrt(2) z(0.75), z from mpmath 1.3.0
    expectDigits(chartConstants(2).d4, Math.SQRT2 * 0.6744897501960817, 13);
  });

  it.each([
    // mpmath 1.3.0, 20 digits: d2 by the integral of 1 - F^n - (1 - F)^n, d3 by the double integral of the range
    [25, 3.930629219507113, 0.70844076588865],
    [50, 4.498147258779701, 0.65214258842996],
    [100, 5.015187272883369, 0.60517910948785],
  ])("is exact for large subgroups, n = %i", (n, d2, d3) => {
    expectDigits(chartConstants(n).d2, d2, 13);
    expectDigits(chartConstants(n).d3, d3, 12);
    expectDigits(normalRangeCdf(chartConstants(n).d4, n), 0.5, 13);
  });

  it("is finite and ordered for every n from 2 to 100", () => {
    for (let n = 3; n <= 100; n++) {
      const now = chartConstants(n);
      const before = chartConstants(n - 1);
      expect(Object.values(now).every(Number.isFinite)).toBe(true);
      expect(now.d2).toBeGreaterThan(before.d2);
      expect(now.c4).toBeGreaterThan(before.c4);
      expect(now.A2).toBeLessThan(before.A2);
    }
  });

  it("refuses other sizes", () => {
    for (const n of [1, 101, 2.5, NaN]) expect(() => chartConstants(n)).toThrow(CoreError);
  });
});

describe("c4Constant", () => {
  it("joins recurrence and series", () => {
    // mpmath 1.3.0: sqrt(2/(n-1)) gamma(n/2)/gamma((n-1)/2) at n = 1000 and 1001
    expectDigits(c4Constant(1000), 0.9997497811015132, 13);
    expectDigits(c4Constant(1001), 0.9997500312890522, 14);
  });
});

describe("d2Star", () => {
  it("reproduces the table for the mean range of few subgroups", () => {
    for (const [m, row] of Object.entries(reference.d2_star.values)) {
      for (const [g, value] of Object.entries(row)) {
        expect(agreeingDigits(d2Star(Number(m), Number(g)), value), `m ${m} g ${g}`).toBeGreaterThan(5.3);
      }
    }
  });

  it("refuses no subgroup", () => {
    expect(() => d2Star(5, 0)).toThrow(CoreError);
  });
});

describe("chartFactors as printed", () => {
  // Montgomery, Introduction to Statistical Quality Control, appendix VI; the same digits in other handbooks' tables
  const D3 = [0.363, 0.378, 0.391, 0.403, 0.415, 0.425, 0.434, 0.443, 0.451, 0.459];
  const D4 = [1.637, 1.622, 1.608, 1.597, 1.585, 1.575, 1.566, 1.557, 1.548, 1.541];
  const d3 = [0.75, 0.744, 0.739, 0.734, 0.729, 0.724, 0.72, 0.716, 0.712, 0.708];

  it("are the table's digits for 16 to 25 values, where some are made from rounded ones", () => {
    D3.forEach((lower, i) => {
      const printed = chartFactors(16 + i, "printed");
      expect([printed.D3, printed.D4, printed.d3], `n ${16 + i}`).toEqual([lower, D4[i], d3[i]]);
      const exact = chartFactors(16 + i);
      expect(Math.abs(exact.D3 + exact.D4 - 2)).toBeLessThan(1e-14);
    });
  });

  it("follow the formula at another multiple of sigma", () => {
    expect(chartFactors(18, "printed", 2).D4).toBe(
      Number((1 + (2 * chartFactors(18).d3) / chartFactors(18).d2).toFixed(3)),
    );
  });
});
