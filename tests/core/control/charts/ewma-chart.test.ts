import { describe, expect, it } from "vitest";
import { cusumChart } from "@/lib/core/control/charts/cusum-chart";
import { ewmaChart } from "@/lib/core/control/charts/ewma-chart";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/control-charts.json";
import runLengths from "@/tests/reference/ewma-cusum-run-length.json";
import { chartOf, signalledFrom1 } from "./chart-of";

const byId = (id: string) => reference.cases.find((each) => each.id === id)!;
const table91 = byId("montgomery-table-9.1");
const x91 = table91.input.x as number[];

describe("ewmaChart", () => {
  it("gives the printed averages and asymptotic limits of the handbook example", () => {
    // NIST/SEMATECH e-Handbook 6.3.2.4
    const nist = byId("nist-6.3.2.4-ewma");
    const { main } = chartOf(
      ewmaChart(nist.input.x as number[], { lambda: 0.3, width: 3, target: 50, sigma: 2.0539, limits: "asymptotic" }),
    );
    const z = (nist.computed as { z: number[] }).z.slice(1);
    // given to six decimals
    z.forEach((value, index) => expect(Math.abs(main.values[index]! - value)).toBeLessThan(5.1e-7));
    (nist.expected as { z_including_start: number[] }).z_including_start
      .slice(1)
      .forEach((value, index) => expect(Math.abs(main.values[index]! - value)).toBeLessThan(0.0051));
    expectDigits(main.upper[0]!, 52.588431738126616, 12);
    expectDigits(main.lower[0]!, 47.411568261873384, 12);
    expect(main.signals).toEqual([]);
  });

  it("gives the exact limits and the signal of the textbook example", () => {
    // Montgomery, Introduction to Statistical Quality Control, table 9.10
    const { main } = chartOf(ewmaChart(x91, { lambda: 0.1, width: 2.7, target: 10, sigma: 1 }));
    const { ewma, ewma_halfwidth } = table91.computed as { ewma: number[]; ewma_halfwidth: number[] };
    ewma.forEach((value, index) => expect(Math.abs(main.values[index]! - value)).toBeLessThan(0.0000051));
    ewma_halfwidth.forEach((half, index) => expect(Math.abs(main.upper[index]! - 10 - half)).toBeLessThan(0.0000051));
    expect([main.lower[0]!.toFixed(2), main.upper[0]!.toFixed(2)]).toEqual(["9.73", "10.27"]);
    expect(signalledFrom1(main)).toEqual([29, 30]);
  });

  it("widens its limits by the exact variance", () => {
    const factors = (
      runLengths.cases.find(({ id }) => id === "ewma-variance")!.expected as unknown as {
        lambda_0_2_L3_factor_t: Record<string, number>;
      }
    ).lambda_0_2_L3_factor_t;
    const { main } = chartOf(ewmaChart(new Array<number>(50).fill(0), { lambda: 0.2, width: 3, target: 0, sigma: 1 }));
    const final = 3 * Math.sqrt(0.2 / 1.8);
    for (const [t, factor] of Object.entries(factors)) {
      // 6 printed decimals
      expect(Math.abs(main.upper[Number(t) - 1]! / final - factor)).toBeLessThan(6e-7);
    }
  });

  it("is the individuals chart for lambda 1, and may watch one side only", () => {
    const { main } = chartOf(ewmaChart([1, 5, -5], { lambda: 1, width: 3, target: 0, sigma: 1, sides: "upper" }));
    expect(main.values).toEqual([1, 5, -5]);
    expect(main.lower).toEqual([null, null, null]);
    expect(signalledFrom1(main)).toEqual([2]);
  });

  it("weighs means by their sizes and passes over excluded values", () => {
    const even = chartOf(ewmaChart([1, 2], { target: 0, sigma: 2, sizes: [4, 4] })).main;
    const plain = chartOf(ewmaChart([1, 2], { target: 0, sigma: 1 })).main;
    even.upper.forEach((limit, index) => expectDigits(limit!, plain.upper[index]!, 12));
    const skipped = chartOf(ewmaChart([1, 99, 2], { target: 0, sigma: 1, excluded: [1] })).main;
    expect(skipped.values).toEqual([plain.values[0], null, plain.values[1]]);
    expect(skipped.signals).toEqual([]);
  });

  it("refuses a weight outside its range and answers with a reason without variation", () => {
    expect(() => ewmaChart([1], { lambda: 0 })).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => ewmaChart([1, Number.NaN])).toThrow(expect.objectContaining({ code: "not-finite" }));
    expect(ewmaChart([2, 2, 2])).toEqual({ ok: false, reason: expect.stringMatching(/no variation/) });
  });
});

describe("cusumChart", () => {
  it("gives the printed rows and the first signal of the handbook example", () => {
    // NIST/SEMATECH e-Handbook 6.3.2.3; h is 4.1959 in units of the data, sigma of a mean 0.635
    const nist = byId("nist-6.3.2.3-cusum");
    const { main, companions } = chartOf(
      cusumChart(nist.input.x as number[], { target: 325, sigma: 0.635, k: 0.5, h: 4.1959 / 0.635 }),
    );
    (nist.computed as { rows: number[][] }).rows.forEach(([, high, low], index) => {
      expect(Math.abs(main.values[index]! - high!)).toBeLessThan(1e-10);
      expect(Math.abs(companions[0]!.values[index]! - low!)).toBeLessThan(1e-10);
    });
    expectDigits(main.upper[0]!, 4.1959, 12);
    expect(signalledFrom1(main)).toEqual([14, 15, 16, 17, 18, 19, 20]);
  });

  it("gives the sums, the run of seven points and the new level of the textbook example", () => {
    // Montgomery, Introduction to Statistical Quality Control, tables 9.1 and 9.2
    const { main, companions, estimates } = chartOf(cusumChart(x91, { target: 10, sigma: 1, k: 0.5, h: 5 }));
    (table91.computed as { cusum: number[][] }).cusum.forEach(([high, low], index) => {
      expect(Math.abs(main.values[index]! - high!)).toBeLessThan(1e-10);
      expect(Math.abs(companions[0]!.values[index]! - low!)).toBeLessThan(1e-10);
    });
    expect(main.signals[0]!.points).toEqual([22, 23, 24, 25, 26, 27, 28]);
    expectDigits(estimates.details.upperLevel!, 10 + 0.5 + 5.28 / 7, 9);
  });

  it("starts ahead and starts anew when asked", () => {
    const { main } = chartOf(cusumChart([0, 0], { target: 0, sigma: 1, k: 0.5, h: 4, headStart: 0.5 }));
    expect(main.values).toEqual([1.5, 1]);
    const restarted = chartOf(cusumChart([5, 5], { target: 0, sigma: 1, k: 0.5, h: 4, restart: true })).main;
    expect(restarted.values).toEqual([4.5, 4.5]);
    expect(restarted.signals.map(({ points }) => points)).toEqual([[0], [1]]);
  });

  it.each([
    ["a negative k", { k: -1 }, "out-of-range"],
    ["h of zero", { h: 0 }, "out-of-range"],
    ["a head start of one", { headStart: 1 }, "out-of-range"],
    ["sizes that differ", { sigma: 1, sizes: [4, 5] }, "invalid-argument"],
    ["a target that is not finite", { target: Number.NaN }, "not-finite"],
  ])("refuses %s", (_, options, code) => {
    expect(() => cusumChart([1, 2], options)).toThrow(expect.objectContaining({ code }));
  });
});
