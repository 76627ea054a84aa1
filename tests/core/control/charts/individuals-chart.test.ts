import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { ChartSet } from "@/lib/core/control/charts/chart-result";
import { individualsChart, type IndividualsOptions } from "@/lib/core/control/charts/individuals-chart";
import { EIGHT_TESTS } from "@/lib/core/control/rules/run-rules";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/control-charts.json";

const chartOf = (values: readonly number[], options: IndividualsOptions = {}): ChartSet => {
  const result = individualsChart(Object.freeze([...values]), options);
  if (!result.ok) throw new Error(result.reason);
  return result.value;
};
const nist = reference.cases.find(({ id }) => id === "nist-6.3.2.2-individuals")!;
const x = nist.input.x as number[];

describe("individualsChart", () => {
  it("gives the limits printed for the flow-rate example with the printed constant", () => {
    // NIST/SEMATECH e-Handbook 6.3.2.2
    const { main, companions, estimates } = chartOf(x, { constants: "printed" });
    expectDigits(main.centre[0]!, 50.81, 10);
    expectDigits(main.upper[0]!, 55.8041, 6);
    expectDigits(main.lower[0]!, 45.8159, 6);
    expectDigits(estimates.details.meanMovingRange!, 1.8778, 4);
    expect(companions[0]!.values.slice(1).map((value) => value!.toFixed(1))).toEqual(
      [2, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5].map((value) => value.toFixed(1)),
    );
    expect(main.signals).toEqual([]);
  });

  it("gives the limits of the same example with the exact constant", () => {
    // independent recomputation, tests/reference/control-charts.source.md
    const { main, companions } = chartOf(x);
    expectDigits(main.upper[0]!, 55.80241168003069, 10);
    expectDigits(main.lower[0]!, 45.81758831996932, 10);
    expectDigits(companions[0]!.upper[0]!, 6.133821048275558, 9);
    expectDigits(chartOf(x).estimates.details.standardDeviation!, 2.0338523927649117, 12);
  });

  it("leaves excluded points out of estimates and tests but keeps them on the chart", () => {
    const withSpike = [...x.slice(0, 5), 90, ...x.slice(5)];
    const { main, companions } = chartOf(withSpike, { excluded: [5] });
    expectDigits(main.upper[0]!, 55.80241168003069, 10);
    expect(main.values[5]).toBe(90);
    expect(main.excluded).toEqual([5]);
    expect(main.signals).toEqual([]);
    expect(companions[0]!.values[5]).toBeNull();
  });

  it("makes a phase II chart of a given centre and sigma, from one value on", () => {
    const { main, companions } = chartOf([54], { mean: 50, sigma: 1 });
    expect(main.phase).toBe(2);
    expect(main.signals.map(({ rule }) => rule)).toEqual(["zone-1"]);
    expect(companions[0]!.values).toEqual([null]);
  });

  it("gives nearly the same sigma by the robust estimate when a tenth of the values is spoilt", () => {
    const clean = Array.from({ length: 200 }, (_, k) => Math.sin(k * 12.9898) + Math.sin(k * 78.233));
    const spoilt = clean.map((value, k) => (k % 20 === 7 ? value + 40 : value));
    const sigma = (values: number[], sigmaMethod: "mean-moving-range" | "median-moving-range") =>
      chartOf(values, { sigmaMethod }).estimates.sigma;
    expect(sigma(spoilt, "median-moving-range") / sigma(clean, "median-moving-range")).toBeLessThan(1.25);
    expect(sigma(spoilt, "mean-moving-range") / sigma(clean, "mean-moving-range")).toBeGreaterThan(3);
  });

  it("warns while limits rest on fewer than 25 and than 100 points", () => {
    const values = (count: number) => Array.from({ length: count }, (_, k) => Math.sin(k * 12.9898));
    expect(chartOf(values(24)).main.warnings[0]).toMatch(/trial/);
    expect(chartOf(values(99)).main.warnings[0]).toMatch(/provisional/);
    expect(chartOf(values(100)).main.warnings).toEqual([]);
  });

  it.each([
    ["no value", []],
    ["one value", [5]],
    ["all values equal", [5, 5, 5, 5]],
    ["all values equal with an offset that does not fit the grid", [0.1 + 0.2, 0.3, 0.1 + 0.2, 0.3]],
  ])("answers with a reason for %s", (_, values) => {
    const result = individualsChart(values);
    expect(result.ok).toBe(false);
    expect(!result.ok && result.reason.length).toBeGreaterThan(20);
  });

  it.each([
    ["NaN", [1, Number.NaN, 2], {}, "not-finite"],
    ["an infinite value", [1, Infinity], {}, "not-finite"],
    ["a sigma of zero", [1, 2], { sigma: 0 }, "out-of-range"],
    ["an index that is not there", [1, 2], { excluded: [2] }, "out-of-range"],
    ["a span of one", [1, 2], { span: 1 }, "out-of-range"],
  ])("refuses %s", (_, values, options, code) => {
    expect(() => individualsChart(values, options)).toThrow(expect.objectContaining({ code }));
  });

  it("moves with a shift and a scale of the values, and keeps its signals", () => {
    const values = fc.array(fc.integer({ min: -50, max: 50 }), { minLength: 12, maxLength: 60 });
    fc.assert(
      fc.property(
        values,
        fc.integer({ min: -1000, max: 1000 }),
        fc.constantFrom(0.25, 2, 1024),
        (data, shift, scale) => {
          const first = individualsChart(data, { rules: EIGHT_TESTS });
          const moved = individualsChart(
            data.map((value) => value * scale + shift),
            { rules: EIGHT_TESTS },
          );
          expect(moved.ok).toBe(first.ok);
          if (!first.ok || !moved.ok) return;
          expectDigits(moved.value.estimates.sigma, first.value.estimates.sigma * scale, 11);
          expectDigits(moved.value.main.upper[0]! - shift + 1, first.value.main.upper[0]! * scale + 1, 8);
        },
      ),
      { seed: 41, numRuns: 100 },
    );
  });

  it("keeps its digits with an offset of 1e8", () => {
    const offset = x.map((value) => Math.round(value * 10) + 1e8);
    const plain = x.map((value) => Math.round(value * 10));
    expectDigits(chartOf(offset).estimates.sigma, chartOf(plain).estimates.sigma, 14);
  });
});
