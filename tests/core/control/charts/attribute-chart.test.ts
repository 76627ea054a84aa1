import { describe, expect, it } from "vitest";
import { attributeChart } from "@/lib/core/control/charts/attribute-chart";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/control-charts.json";
import { chartOf, signalledFrom1 } from "./chart-of";

const byId = (id: string) => reference.cases.find((each) => each.id === id)!;
const proportions = byId("nist-6.3.3.2-proportions");

describe("attributeChart", () => {
  it("gives the counts chart of the wafers; the third, exactly on the limit, does not signal", () => {
    // NIST/SEMATECH e-Handbook 6.3.3.1
    const { main } = chartOf(attributeChart(byId("nist-6.3.3.1-counts").input.counts as number[], { kind: "c" }));
    expect([main.centre[0], main.upper[0], main.lower[0]]).toEqual([16, 28, 4]);
    expect(signalledFrom1(main)).toEqual([24]);
    expect(main.values[2]).toBe(28);
  });

  it("gives the proportions chart, and the revised one without the samples that have a cause", () => {
    // NIST/SEMATECH e-Handbook 6.3.3.2; Montgomery, Introduction to Statistical Quality Control, example 7.1
    const defectives = proportions.input.defectives as number[];
    const { main } = chartOf(attributeChart(defectives, { kind: "p", sizes: 50 }));
    const computed = proportions.computed as { p_bar: number; ucl: number; lcl: number };
    expectDigits(main.centre[0]!, computed.p_bar, 12);
    expectDigits(main.upper[0]!, computed.ucl, 12);
    expectDigits(main.lower[0]!, computed.lcl, 12);
    expectDigits(main.upper[0]!, 0.4102, 3.9);
    expectDigits(main.lower[0]!, 0.0524, 3);
    expect(signalledFrom1(main)).toEqual([15, 23]);
    const revised = chartOf(attributeChart(defectives, { kind: "p", sizes: 50, excluded: [14, 22] })).main;
    expectDigits(revised.upper[0]!, 0.38929716004571047, 12);
    expectDigits(revised.lower[0]!, 0.040702839954289555, 12);
    const alone = byId("montgomery-7.1-revised");
    const removed = chartOf(attributeChart(alone.input.defectives as number[], { kind: "p", sizes: 50 })).main;
    expect([removed.centre[0]!.toFixed(4), removed.upper[0]!.toFixed(4), removed.lower[0]!.toFixed(4)]).toEqual([
      "0.2150",
      "0.3893",
      "0.0407",
    ]);
    expect(removed.signals.map(({ index }) => (alone.input.defectives as number[])[index])).toEqual([20]);
    expect(revised.signals.map(({ index }) => index + 1)).toEqual([21]);
  });

  it("gives the same chart in numbers of units", () => {
    const options = { sizes: 50 } as const;
    const p = chartOf(attributeChart([5, 9, 2, 7], { kind: "p", ...options })).main;
    const np = chartOf(attributeChart([5, 9, 2, 7], { kind: "np", ...options })).main;
    np.upper.forEach((upper, index) => expectDigits(upper!, p.upper[index]! * 50, 12));
    expect(np.values).toEqual([5, 9, 2, 7]);
  });

  it("gives limits of each area of opportunity on a u chart", () => {
    const { main } = chartOf(attributeChart([4, 8, 6], { kind: "u", sizes: [1, 2, 4] }));
    // Formula ubar -/+ 3 sqrt(ubar / n), Montgomery 7.3; ubar = 18 / 7
    [1, 2, 4].forEach((n, index) => expectDigits(main.upper[index]!, 18 / 7 + 3 * Math.sqrt(18 / 7 / n), 12));
    expect(main.lower[0]).toBe(0);
  });

  it("corrects for overdispersion", () => {
    // Laney 2002, Quality Engineering 14(4) 531-537 (formula); values recomputed independently
    const laney = byId("laney-p-prime");
    const expected = laney.expected as { p_bar: number; sigma_z: number; ucl: number[]; lcl: number[] };
    const { d, n } = laney.input as { d: number[]; n: number[] };
    const { main } = chartOf(attributeChart(d, { kind: "p-prime", sizes: n, constants: "printed" }));
    expectDigits(main.centre[0]!, expected.p_bar, 12);
    expectDigits(main.estimates.details.sigmaZ!, expected.sigma_z, 9);
    expected.ucl.forEach((limit, index) => expectDigits(main.upper[index]!, limit, 9));
    expected.lcl.forEach((limit, index) => expectDigits(main.lower[index]!, limit, 9));
    const ordinary = chartOf(attributeChart(d, { kind: "p", sizes: n })).main;
    const plain = laney.expected as { ucl_ordinary: number[]; lcl_ordinary: number[] };
    plain.ucl_ordinary.forEach((limit, index) => expectDigits(ordinary.upper[index]!, limit, 10));
    plain.lcl_ordinary.forEach((limit, index) => expectDigits(ordinary.lower[index]!, limit, 10));
  });

  it("cuts a limit below zero on the overdispersed wafer proportions", () => {
    const expected = byId("laney-degenerate").expected as { sigma_z: number; ucl: number; lcl: number };
    const { main } = chartOf(
      attributeChart(proportions.input.defectives as number[], { kind: "p-prime", sizes: 50, constants: "printed" }),
    );
    expectDigits(main.estimates.details.sigmaZ!, expected.sigma_z, 9);
    expectDigits(main.upper[0]!, expected.ucl, 9);
    expect(main.lower[0]).toBe(0);
  });

  it.each([
    ["nothing found", [0, 0, 0], { kind: "p", sizes: 10 }],
    ["everything found", [10, 10], { kind: "np", sizes: 10 }],
    ["no sample", [], { kind: "c" }],
    ["equal proportions", [3, 3, 3], { kind: "p-prime", sizes: 10 }],
    ["one sample", [3], { kind: "p-prime", sizes: 10 }],
  ] as const)("answers with a reason for %s", (_, counts, options) => {
    expect(attributeChart(counts, options)).toEqual({ ok: false, reason: expect.stringMatching(/.{20}/) });
  });

  it.each([
    ["a count that is not whole", [1.5], { kind: "c" }, "out-of-range"],
    ["more than the sample", [11], { kind: "p", sizes: 10 }, "out-of-range"],
    ["NaN", [Number.NaN], { kind: "c" }, "out-of-range"],
    ["sizes of another length", [1, 2], { kind: "p", sizes: [10] }, "length-mismatch"],
    ["a missing size", [1, 2], { kind: "u" }, "invalid-argument"],
    ["a given centre above 1", [1, 2], { kind: "p", sizes: 10, centre: 2 }, "out-of-range"],
  ] as const)("refuses %s", (_, counts, options, code) => {
    expect(() => attributeChart(counts, options)).toThrow(expect.objectContaining({ code }));
  });
});
