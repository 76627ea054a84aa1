import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { betweenWithinChart } from "@/lib/core/control/charts/between-within-chart";
import { meanChart } from "@/lib/core/control/charts/mean-chart";
import { LIMIT_TEST_ONLY } from "@/lib/core/control/rules/run-rules";
import { expectDigits } from "@/tests/helpers/expect-digits";
import betweenWithin from "@/tests/reference/between-within-shortrun.json";
import reference from "@/tests/reference/control-charts.json";
import { chartOf, signalledFrom1 } from "./chart-of";

const byId = (id: string) => reference.cases.find((each) => each.id === id)!;
const rings = byId("piston-rings");
const ringSamples = rings.input.samples as number[][];
const phase1 = ringSamples.slice(0, 25);
const computed = rings.computed as {
  grand_mean: number;
  r_bar: number;
  s_bar: number;
  xbar_R: { ucl: number; lcl: number };
  xbar_S: { ucl: number; lcl: number };
  R: { ucl: number };
  S: { ucl: number };
  sigma_R: number;
  sigma_S: number;
  pooled_sd: number;
  xbar_all: number[];
  R_all: number[];
  s_all: number[];
  xbar_out_of_R_limits: number[];
};
const vane = byId("vane-opening");
const vaneSamples = vane.input.samples as number[][];

describe("meanChart with standard deviations", () => {
  // Montgomery, Introduction to Statistical Quality Control, table 6.3, example 6.3
  it("gives the printed and the exact limits of the piston-ring bores", () => {
    const { main, companions, estimates } = chartOf(meanChart(phase1));
    expect(main.upper[0]!.toFixed(3)).toBe("74.015"); // printed 74.014, cut, from a rounded s
    expect(Math.abs(main.upper[0]! - 74.014)).toBeLessThan(0.001);
    expect(main.lower[0]!.toFixed(3)).toBe("73.988");
    expectDigits(main.centre[0]!, computed.grand_mean, 8);
    expectDigits(main.upper[0]!, computed.xbar_S.ucl, 12);
    expectDigits(main.lower[0]!, computed.xbar_S.lcl, 12);
    expectDigits(companions[0]!.upper[0]!, computed.S.ucl, 9);
    expect(companions[0]!.lower[0]).toBe(0);
    expectDigits(estimates.sigma, computed.sigma_S, 9);
    expectDigits(estimates.details.meanStandardDeviation!, computed.s_bar, 10);
    const printedMeans = (rings.expected as { published_row_means_1_16: number[] }).published_row_means_1_16;
    printedMeans.forEach((mean, index) => expect(Math.abs(main.values[index]! - mean)).toBeLessThan(0.000501));
    const printedS = (rings.expected as { published_row_s_1_16: number[] }).published_row_s_1_16;
    printedS.forEach((s, index) => expect(Math.abs(companions[0]!.values[index]! - s)).toBeLessThan(0.000051));
    expect(main.signals).toEqual([]);
    expect(companions[0]!.signals).toEqual([]);
  });

  it("gives all means, ranges and standard deviations of the forty samples", () => {
    const s = chartOf(meanChart(ringSamples));
    const r = chartOf(meanChart(ringSamples, { spread: "range" }));
    computed.xbar_all.forEach((mean, index) => expectDigits(s.main.values[index]!, mean, 12));
    computed.s_all.forEach((sd, index) => expectDigits(s.companions[0]!.values[index]!, sd, 3));
    computed.R_all.forEach((range, index) => expectDigits(r.companions[0]!.values[index]!, range, 9));
  });

  it("gives the pooled estimate", () => {
    const pooled = chartOf(meanChart(phase1, { sigmaMethod: "pooled-as-mean" }));
    expectDigits(pooled.estimates.sigma, computed.pooled_sd, 10);
  });
});

describe("meanChart with ranges", () => {
  it("gives the limits of the piston rings and finds samples 37 to 39 in phase II", () => {
    const { main, companions, estimates } = chartOf(meanChart(phase1, { spread: "range" }));
    expectDigits(main.upper[0]!, computed.xbar_R.ucl, 12);
    expectDigits(main.lower[0]!, computed.xbar_R.lcl, 12);
    expectDigits(companions[0]!.upper[0]!, computed.R.ucl, 9);
    expectDigits(companions[0]!.centre[0]!, computed.r_bar, 10);
    expectDigits(estimates.sigma, computed.sigma_R, 9);
    const phase2 = chartOf(
      meanChart(ringSamples, {
        spread: "range",
        mean: estimates.centre,
        sigma: estimates.sigma,
        rules: LIMIT_TEST_ONLY,
      }),
    );
    expect(phase2.main.phase).toBe(2);
    expect(signalledFrom1(phase2.main)).toEqual(computed.xbar_out_of_R_limits);
  });

  it("gives the limits of the other circulating sample 21", () => {
    const variant = (rings.expected as { variant_B: { sample_21: number[]; xbar_limits: number[]; R_ucl: number } })
      .variant_B;
    const { main, companions } = chartOf(
      meanChart(phase1.with(20, variant.sample_21), { spread: "range", constants: "printed" }),
    );
    expect(Math.abs(main.lower[0]! - variant.xbar_limits[0]!)).toBeLessThan(0.0001);
    expect(Math.abs(main.upper[0]! - variant.xbar_limits[1]!)).toBeLessThan(0.0001);
    expect(Math.abs(companions[0]!.upper[0]! - variant.R_ucl)).toBeLessThan(0.0001);
  });

  it("gives the vane-opening chart, its signals, and its limits revised without the samples that have a cause", () => {
    // Montgomery and Runger, Applied Statistics and Probability for Engineers, examples 16-1 and 16-4
    const options = { spread: "range", constants: "printed", rules: LIMIT_TEST_ONLY } as const;
    const { main, companions } = chartOf(meanChart(vaneSamples, options));
    const lines = [main.centre, companions[0]!.centre, main.upper, main.lower, companions[0]!.upper];
    // 0.01: the book's D4 is 2.115, the tables' 2.114
    [33.32, 5.8, 36.67, 29.97, 12.27].forEach((printed, k) =>
      expect(Math.abs(lines[k]![0]! - printed)).toBeLessThan(0.01),
    );
    expect(signalledFrom1(main)).toEqual([6, 8, 11, 19]);
    expect(signalledFrom1(companions[0]!)).toEqual([9]);
    const revised = chartOf(meanChart(vaneSamples, { ...options, excluded: [5, 7, 8, 10, 18] }));
    const revisedLines = [revised.main.upper, revised.main.lower, revised.companions[0]!.upper];
    [36.1, 30.33, 10.57].forEach((printed, k) => expect(Math.abs(revisedLines[k]![0]! - printed)).toBeLessThan(0.0052));
    const exact = (vane.computed as { revised: { grand_mean: number; r_bar: number } }).revised;
    expectDigits(revised.main.centre[0]!, exact.grand_mean, 12);
    expectDigits(revised.companions[0]!.centre[0]!, exact.r_bar, 12);
  });
});

describe("meanChart with unequal sizes", () => {
  const unequal = phase1.map((sample, index) => sample.slice(0, 3 + (index % 3)));

  it("has limits of each size, wider for the smaller", () => {
    const { main } = chartOf(meanChart(unequal));
    const half = (index: number) => main.upper[index]! - main.centre[index]!;
    expectDigits(half(0) / half(2), Math.sqrt(5 / 3), 10);
    expect(main.sizes!.slice(0, 3)).toEqual([3, 4, 5]);
  });

  it("puts the pooled value in the place of the mean standard deviation at every size when asked", () => {
    // Montgomery, section 6.3.2: limits centre -/+ A3(n_i) sbar with sbar pooled; A3 of 3, 4, 5 from ASTM E2587
    const { main, companions } = chartOf(meanChart(unequal, { sigmaMethod: "pooled-as-mean", constants: "printed" }));
    const pooled = companions[0]!.centre[0]!;
    [1.954, 1.628, 1.427].forEach((a3, index) =>
      expectDigits(main.upper[index]! - main.centre[index]!, a3 * pooled, 9),
    );
    [2.568, 2.266, 2.089].forEach((b4, index) => expectDigits(companions[0]!.upper[index]!, b4 * pooled, 9));
  });

  it("is the equal-size chart when sizes are equal, whatever the way to sigma", () => {
    const oneMore = [...phase1, [74.0, 74.01, 73.99, 74.002]];
    const weighted = chartOf(meanChart(oneMore)).estimates.sigma;
    const equal = chartOf(meanChart(phase1)).estimates.sigma;
    expect(Math.abs(weighted / equal - 1)).toBeLessThan(0.05);
  });

  it("charts a subgroup of one without a spread and says so", () => {
    const { main, companions } = chartOf(meanChart([[74.001], ...phase1]));
    expect(companions[0]!.values[0]).toBeNull();
    expectDigits(main.upper[0]! - main.centre[0]!, 3 * main.estimates.sigma, 9);
    expect(main.warnings.join()).toMatch(/1 of 26 subgroups have one reading/);
  });
});

describe("meanChart on bad input", () => {
  it.each([
    ["no subgroups", []],
    ["subgroups of one", [[1], [2], [3]]],
    [
      "no variation within subgroups",
      [
        [1, 1],
        [2, 2],
        [3, 3],
      ],
    ],
  ])("answers with a reason for %s", (_, subgroups) => {
    expect(meanChart(subgroups)).toEqual({ ok: false, reason: expect.stringMatching(/.{20}/) });
  });

  it("refuses an empty subgroup and a value that is not finite", () => {
    expect(() => meanChart([[1, 2], []])).toThrow(expect.objectContaining({ code: "too-few-values" }));
    expect(() =>
      meanChart([
        [1, 2],
        [Number.NaN, 1],
      ]),
    ).toThrow(expect.objectContaining({ code: "not-finite" }));
    expect(() =>
      meanChart([
        [1, 2],
        [1, Infinity],
      ]),
    ).toThrow(expect.objectContaining({ code: "not-finite" }));
  });

  it("does not depend on the order of readings within a subgroup", () => {
    const subgroup = fc.array(fc.integer({ min: 0, max: 64 }), { minLength: 2, maxLength: 6 });
    fc.assert(
      fc.property(fc.array(subgroup, { minLength: 2, maxLength: 12 }), (subgroups) => {
        const turned = meanChart(subgroups.map((readings) => [...readings].reverse()));
        const plain = meanChart(subgroups);
        expect(turned.ok).toBe(plain.ok);
        if (turned.ok && plain.ok) expectDigits(turned.value.estimates.sigma, plain.value.estimates.sigma, 12);
      }),
      { seed: 41, numRuns: 100 },
    );
  });
});

describe("betweenWithinChart", () => {
  const wafers = betweenWithin.cases.find(({ id }) => id === "three-way-wafers")!;
  const expected = wafers.expected as unknown as Record<string, number> & {
    between_limits_individuals_of_means: number[];
    ordinary_xbar_limits: number[];
    means: number[];
    ranges: number[];
  };

  it("gives the three charts and both components of the wafer thickness data", () => {
    const { main, companions, estimates } = chartOf(
      betweenWithinChart(wafers.input.x as number[][], { spread: "range" }),
    );
    const [movingRange, range] = companions;
    expectDigits(main.lower[0]!, expected.between_limits_individuals_of_means[0]!, 9);
    expectDigits(main.upper[0]!, expected.between_limits_individuals_of_means[1]!, 9);
    expectDigits(movingRange!.upper[0]!, expected.mr_ucl!, 9);
    expectDigits(range!.centre[0]!, expected.R_bar!, 12);
    expectDigits(range!.upper[0]!, expected.R_ucl!, 9);
    expect(main.values).toEqual(expected.means);
    expect(range!.values).toEqual(expected.ranges);
    expectDigits(estimates.details.meanMovingRange!, expected.mr_bar_of_means!, 11);
    expectDigits(estimates.details.sigmaWithin!, expected.sigma_within!, 9);
    expectDigits(estimates.details.sigmaOfMeans!, expected.sigma_of_means!, 9);
    expectDigits(estimates.details.sigmaBetween!, expected.sigma_between!, 8);
    expectDigits(estimates.details.sigmaTotal!, expected.sigma_total!, 9);
    expect(main.signals.filter(({ rule }) => rule === "zone-1")).toEqual([]);
    const ordinary = chartOf(meanChart(wafers.input.x as number[][], { spread: "range" }));
    expectDigits(ordinary.main.lower[0]!, expected.ordinary_xbar_limits[0]!, 9);
    expectDigits(ordinary.main.upper[0]!, expected.ordinary_xbar_limits[1]!, 9);
    const byDeviation = chartOf(betweenWithinChart(wafers.input.x as number[][]));
    expectDigits(byDeviation.estimates.details.meanStandardDeviation!, expected.s_bar!, 10);
  });

  it("sets the variation between parts to zero, and says so, where readings within a part explain it", () => {
    const parts = Array.from({ length: 12 }, (_, k) => [0, 10 + (k % 2) / 100]);
    const { main, estimates } = chartOf(betweenWithinChart(parts));
    expect(estimates.details.sigmaBetween).toBe(0);
    expect(main.warnings.join()).toMatch(/set to zero/);
  });
});
