import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { individualsChart } from "@/lib/core/control/charts/individuals-chart";
import { quantileChart, THREE_SIGMA_TAIL } from "@/lib/core/control/charts/quantile-chart";
import { ZONE_TESTS } from "@/lib/core/control/rules/run-rules";
import { deviationChart, standardisedChart } from "@/lib/core/control/charts/short-run-chart";
import { trendedChart } from "@/lib/core/control/charts/trended-chart";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/between-within-shortrun.json";
import { chartOf, signalledFrom1 } from "./chart-of";

const byId = (id: string) => reference.cases.find((each) => each.id === id)!;

describe("standardisedChart", () => {
  const zmr = byId("z-mr");
  const sequence = zmr.input.sequence as [string, number][];
  const models = sequence.map(([model]) => model);
  const values = sequence.map(([, value]) => value);

  it("gives z, its moving range and both limits of the mixed sequence", () => {
    // definition; recomputed independently
    const expected = zmr.expected as unknown as {
      mean: Record<string, number>;
      sigma: Record<string, number>;
      z: number[];
      mr_z: number[];
      limits: { mr_cl: number; mr_ucl: number };
    };
    const { main, companions, estimates } = chartOf(standardisedChart(values, models));
    expected.z.forEach((z, index) => expectDigits(main.values[index]!, z, 9));
    expected.mr_z.forEach((range, index) => expectDigits(companions[0]!.values[index + 1]!, range, 9));
    expectDigits(companions[0]!.centre[0]!, expected.limits.mr_cl, 10);
    expectDigits(companions[0]!.upper[0]!, expected.limits.mr_ucl, 10);
    expect([main.lower[0], main.upper[0]]).toEqual([-3, 3]);
    for (const model of ["A", "B", "C"]) {
      expectDigits(estimates.details[`mean of ${model}`]!, expected.mean[model]!, 12);
      expectDigits(estimates.details[`sigma of ${model}`]!, expected.sigma[model]!, 9);
    }
  });

  it("takes a known model from earlier data and gives a reason for a model it knows nothing of", () => {
    const known = { D: { mean: 5, sigma: 2 } };
    const { main } = chartOf(standardisedChart([...values, 9], [...models, "D"], { known }));
    expect(main.values.at(-1)).toBe(2);
    expect(standardisedChart([...values, 9], [...models, "D"])).toEqual({
      ok: false,
      reason: expect.stringMatching(/Model D has fewer than two values/),
    });
    expect(standardisedChart([1, 1, 1], ["A", "A", "A"]).ok).toBe(false);
    expect(standardisedChart([], []).ok).toBe(false);
    expect(() => standardisedChart([1], [])).toThrow(expect.objectContaining({ code: "length-mismatch" }));
  });
});

describe("deviationChart", () => {
  it("is the individuals chart of deviations from each model's nominal", () => {
    const deviations = [0.5, -0.25, 0.25, 0, -0.5, 0.75];
    const nominals = [37, 41, 37, 41, 37, 41];
    const chart = chartOf(
      deviationChart(
        deviations.map((value, index) => value + nominals[index]!),
        nominals,
      ),
    );
    const plain = chartOf(individualsChart(deviations));
    expect(chart.main.kind).toBe("deviation-from-nominal");
    expect(chart.main.values).toEqual(deviations);
    expect(chart.main.upper).toEqual(plain.main.upper);
    expect(() => deviationChart([1], [])).toThrow(expect.objectContaining({ code: "length-mismatch" }));
  });
});

describe("trendedChart", () => {
  const generator = createSeededGenerator(41);
  const lives = 4;
  const length = 30;
  const noise = Array.from({ length: lives * length }, () => generator.normal() * 0.002);
  const wearing = noise.map(
    (value, index) => 41.02 - 0.0004 * (index % length) + Math.floor(index / length) / 1000 + value,
  );
  const toolChanges = [30, 60, 90];

  it("finds slope and levels exactly where nothing but the line is there to fit", () => {
    const residual = [0.1, -0.1, -0.1, 0.1]; // orthogonal to level and slope
    const values = [0, 1, 2, 3, 0, 1, 2, 3].map(
      (wear, index) => (index < 4 ? 10 : 20) - 0.5 * wear + residual[index % 4]!,
    );
    const { main, estimates } = chartOf(trendedChart(values, { toolChanges: [4] }));
    expectDigits(estimates.details.slope!, -0.5, 12);
    expectDigits(main.centre[0]!, 10, 12);
    expectDigits(main.centre[4]!, 20, 12);
    // sum of squares 8 x 0.01 over 8 values less 3 parameters
    expectDigits(estimates.sigma, Math.sqrt(0.08 / 5), 12);
    const own = chartOf(trendedChart(values, { toolChanges: [4], slope: "own" }));
    expectDigits(own.estimates.sigma, Math.sqrt(0.08 / 4), 12);
  });

  it("does not call wear a signal where a flat chart does, and finds a step on top of wear", () => {
    const flat = chartOf(individualsChart(wearing, { rules: ZONE_TESTS }));
    const trended = chartOf(trendedChart(wearing, { toolChanges }));
    expect(flat.main.signals.length).toBeGreaterThan(20);
    expect(trended.main.signals.length).toBeLessThan(5);
    expect(Math.abs(trended.estimates.details.slope! + 0.0004)).toBeLessThan(0.00005);
    const { slope, level } = trended.estimates.details;
    const given = { slope: slope!, level: level!, sigma: trended.estimates.sigma };
    const stepped = wearing.slice(90).map((value, index) => (index < 20 ? value : value + 0.009));
    const phase2 = chartOf(trendedChart(stepped, { given }));
    expect(phase2.main.phase).toBe(2);
    expect(phase2.main.signals[0]!.index).toBeGreaterThanOrEqual(20);
  });

  it("does not move when all values move, and tilts when wear is measured in other units", () => {
    fc.assert(
      fc.property(fc.integer({ min: -50, max: 50 }), fc.constantFrom(2, 8), (shift, scale) => {
        const plain = chartOf(trendedChart(wearing, { toolChanges }));
        const moved = chartOf(
          trendedChart(
            wearing.map((value) => value + shift),
            { toolChanges, wear: wearing.map((_, index) => (index % length) * scale) },
          ),
        );
        expectDigits(moved.estimates.sigma, plain.estimates.sigma, 8);
        expectDigits(moved.estimates.details.slope! * scale, plain.estimates.details.slope!, 8);
      }),
      { seed: 41, numRuns: 20 },
    );
  });

  it("leaves excluded frames out and estimates from moving ranges within lives when asked", () => {
    const spoilt = wearing.with(40, 45);
    const chart = chartOf(trendedChart(spoilt, { toolChanges, excluded: [40], sigmaMethod: "mean-moving-range" }));
    expect(chart.main.signals.filter(({ index }) => index === 40)).toEqual([]);
    expect(chart.estimates.sigma).toBeLessThan(0.003);
  });

  it.each([
    ["a tool change at every frame", wearing.slice(0, 10), { toolChanges: [1, 2, 3, 4, 5, 6, 7, 8, 9] }],
    ["one value", [1], {}],
    ["no value", [], {}],
    ["two values", [1, 2], {}],
    ["values exactly on a line", [1, 2, 3, 4, 5], {}],
    ["a life that is all left out", [1, 2, 4, 3, 5, 7], { toolChanges: [4], excluded: [4, 5] }],
    ["a life of one value with a slope of its own", [1, 2, 4, 3, 5], { toolChanges: [4], slope: "own" as const }],
  ])("answers with a reason for %s", (_, values, options) => {
    expect(trendedChart(values, options)).toEqual({ ok: false, reason: expect.stringMatching(/.{20}/) });
  });

  it("refuses values that are not finite and indices that are not there", () => {
    expect(() => trendedChart([1, Number.NaN])).toThrow(expect.objectContaining({ code: "not-finite" }));
    expect(() => trendedChart([1, 2], { toolChanges: [2] })).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => trendedChart([1, 2], { wear: [1] })).toThrow(expect.objectContaining({ code: "length-mismatch" }));
  });
});

describe("quantileChart", () => {
  it("has the three-sigma limits of a normal distribution", () => {
    // elementary: quantiles of the normal distribution
    const { main } = chartOf(
      quantileChart([0, 3.1, -3.1], { limits: { family: "normal", mean: 0, sd: 1 }, tail: THREE_SIGMA_TAIL }),
    );
    expectDigits(main.upper[0]!, 3, 12);
    expectDigits(main.lower[0]!, -3, 12);
    expect(signalledFrom1(main)).toEqual([2, 3]);
  });

  it("watches one side only and accepts quantiles as they are", () => {
    const limits = { lower: 0.1, median: 1, upper: 4 };
    const { main } = chartOf(quantileChart([0.05, 4, 4.1], { limits, sides: "upper", baseline: 40 }));
    expect(main.lower).toEqual([null, null, null]);
    expect(signalledFrom1(main)).toEqual([3]);
    expect(main.warnings[0]).toMatch(/provisional/);
  });

  it("refuses quantiles that do not ascend", () => {
    expect(() => quantileChart([1], { limits: { lower: 2, median: 1, upper: 3 } })).toThrow(
      expect.objectContaining({ code: "invalid-argument" }),
    );
    expect(quantileChart([], { limits: { lower: 0, median: 1, upper: 3 } }).ok).toBe(false);
  });
});
