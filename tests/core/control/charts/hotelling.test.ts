import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { hotellingBaseline, hotellingChart, hotellingMeanChart } from "@/lib/core/control/charts/hotelling-chart";
import { hotellingLimit } from "@/lib/core/control/charts/hotelling-limit";
import { clockDegrees, targetPlot, type ClockVector } from "@/lib/core/control/charts/hotelling-target";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/hotelling.json";
import { chartOf, signalledFrom1 } from "./chart-of";

const textbook = reference.cases.find(({ id }) => id === "t2-subgroups")!;
const limits = reference.cases.find(({ id }) => id === "t2-limits")!;
const rows = textbook.input.rows as number[][];
const summaries = {
  means: rows.map(([a, b]) => [a!, b!]),
  covariances: rows.map(([, , aa, bb, ab]) => [
    [aa!, ab!],
    [ab!, bb!],
  ]),
  sizes: rows.map(() => 10),
};

/** Correlated normal vectors: standard deviations 3 and 2, correlation 0.5, mean as given. */
function vectors(n: number, seed: number, mean: ClockVector = [0, 0]): ClockVector[] {
  const { normal } = createSeededGenerator(seed);
  return Array.from({ length: n }, () => {
    const [u, v] = [normal(), normal()];
    return [mean[0] + 3 * u, mean[1] + u + Math.sqrt(3) * v];
  });
}

describe("hotellingMeanChart", () => {
  it("gives the T2 values and the limit of the textbook example", () => {
    // Montgomery, Introduction to Statistical Quality Control, example 11.1
    const { main } = chartOf(hotellingMeanChart(summaries, { alpha: 0.001 }));
    const computed = textbook.computed as { T2_unrounded: number[]; UCL1: number };
    computed.T2_unrounded.forEach((value, index) => expectDigits(main.values[index]!, value, 9));
    // printed from rounded means and covariances
    (textbook.expected as { T2: number[] }).T2.forEach((value, index) =>
      expect(Math.abs(main.values[index]! - value)).toBeLessThan(0.055),
    );
    expectDigits(main.upper[0]!, computed.UCL1, 9);
    expect(main.upper[0]!.toFixed(2)).toBe("13.72");
    expect(main.signals).toEqual([]);
    expect(main).toMatchObject({ kind: "t2", phase: 1, sigma: null });
    // printed: 115.59
    expect(main.estimates.details.mean1!.toFixed(2)).toBe("115.59");
  });

  it("gives the wider limit of the next samples in phase II", () => {
    // the same example: 15.16
    const rounded = {
      mean: [115.59, 1.06],
      covariance: [
        [1.23, 0.79],
        [0.79, 0.83],
      ],
      count: 200,
      degreesOfFreedom: 180,
    };
    const { main } = chartOf(hotellingMeanChart(summaries, { alpha: 0.001, baseline: rounded }));
    const computed = textbook.computed as { T2_book_rounding: number[]; UCL2: number };
    expectDigits(main.upper[0]!, computed.UCL2, 9);
    computed.T2_book_rounding.forEach((value, index) => expectDigits(main.values[index]!, value, 8));
    (textbook.expected as { T2: number[] }).T2.forEach((value, index) =>
      expect(Math.abs(main.values[index]! - value)).toBeLessThan(0.0051),
    );
    expect(main.phase).toBe(2);
  });

  it("is the same from vectors as from their means and covariances, sizes unequal", () => {
    const all = vectors(60, 7);
    const groups = [all.slice(0, 10), all.slice(10, 35), all.slice(35, 40), all.slice(40)];
    const covariances = groups.map((group) => hotellingBaseline(group).covariance);
    const means = groups.map((group) => hotellingBaseline(group).mean);
    const direct = chartOf(hotellingMeanChart(groups)).main;
    const fromSummaries = chartOf(
      hotellingMeanChart({ means, covariances, sizes: groups.map(({ length }) => length) }),
    ).main;
    direct.values.forEach((value, index) => expectDigits(fromSummaries.values[index]!, value!, 10));
    expect(new Set(direct.upper).size).toBe(4);
  });
});

describe("hotellingLimit", () => {
  it("gives the limits of the references", () => {
    // recomputed with scipy, see tests/reference/hotelling.source.md
    const computed = limits.computed as unknown as Record<string, { phase1: number; phase2: number }>;
    for (const [key, count, dimensions, alpha] of [
      ["m25_p2_alpha_0027", 25, 2, 0.0027],
      ["m56_p3_alpha_01", 56, 3, 0.01],
    ] as const) {
      const shared = { dimensions, alpha, count, degreesOfFreedom: count - 1 };
      expectDigits(hotellingLimit({ case: "individuals-1", ...shared })!, computed[key]!.phase1, 9);
      expectDigits(hotellingLimit({ case: "future", ...shared })!, computed[key]!.phase2, 9);
    }
    const [two, three] = (limits.computed as unknown as { chi2_p2_p3_0027: number[] }).chi2_p2_p3_0027;
    expectDigits(hotellingLimit({ case: "known", dimensions: 2, alpha: 0.0027 })!, two!, 12);
    expectDigits(hotellingLimit({ case: "known", dimensions: 3, alpha: 0.0027 })!, three!, 12);
  });

  it("has no limit where no degrees of freedom are left", () => {
    expect(hotellingLimit({ case: "future", dimensions: 3, alpha: 0.01, count: 3, degreesOfFreedom: 2 })).toBeNull();
    expect(() => hotellingLimit({ case: "known", dimensions: 2, alpha: 0 })).toThrow("alpha must be above 0");
  });
});

describe("hotellingChart", () => {
  /** Share of points beyond the limit, with its standard error over independent baselines. */
  function falseAlarms(charts: number, share: (seed: number) => number): { rate: number; se: number } {
    const rates = Array.from({ length: charts }, (_, index) => share(1000 + index));
    const rate = rates.reduce((sum, each) => sum + each, 0) / charts;
    const se = Math.sqrt(rates.reduce((sum, each) => sum + (each - rate) ** 2, 0) / (charts - 1) / charts);
    return { rate, se };
  }

  it("alarms falsely at the stated rate in phase I and II, individuals", () => {
    const first = falseAlarms(2000, (seed) => {
      const { main } = chartOf(hotellingChart(vectors(25, seed), { alpha: 0.05 }));
      return main.signals.length / 25;
    });
    expect(Math.abs(first.rate - 0.05)).toBeLessThan(3.3 * first.se);
    expect(first.se).toBeLessThan(0.001);
    const second = falseAlarms(2000, (seed) => {
      const baseline = hotellingBaseline(vectors(25, seed));
      const { main } = chartOf(hotellingChart(vectors(25, seed + 10_000), { alpha: 0.05, baseline }));
      return main.signals.length / 25;
    });
    expect(Math.abs(second.rate - 0.05)).toBeLessThan(3.3 * second.se);
    expect(second.se).toBeLessThan(0.0015);
  });

  it("alarms falsely near the stated rate with the covariance of successive differences", () => {
    const covarianceMethod = "successive-differences";
    const first = falseAlarms(1500, (seed) => {
      const { main } = chartOf(hotellingChart(vectors(50, seed), { alpha: 0.05, covarianceMethod }));
      return main.signals.length / 50;
    });
    // approximations: within a twentieth of the rate in phase I, a tenth in phase II
    expect(Math.abs(first.rate - 0.05)).toBeLessThan(0.0025);
    const second = falseAlarms(1500, (seed) => {
      const baseline = hotellingBaseline(vectors(50, seed), covarianceMethod);
      const { main } = chartOf(hotellingChart(vectors(25, seed + 10_000), { alpha: 0.05, baseline }));
      return main.signals.length / 25;
    });
    expect(Math.abs(second.rate - 0.05)).toBeLessThan(0.005);
  });

  it("finds a step with successive differences that the sample covariance hides", () => {
    const stepped = [...vectors(30, 5), ...vectors(30, 6, [9, -6])];
    const hidden = chartOf(hotellingChart(stepped, { alpha: 0.05 })).main;
    const found = chartOf(hotellingChart(stepped, { alpha: 0.05, covarianceMethod: "successive-differences" })).main;
    expect(found.signals.length).toBeGreaterThan(2 * hidden.signals.length + 3);
  });

  it("does not depend on the components' units and directions (affine invariance)", () => {
    const some = vectors(20, 3);
    const before = chartOf(hotellingChart(some)).main.values;
    const number = fc.double({ min: -3, max: 3, noNaN: true });
    fc.assert(
      fc.property(number, number, fc.double({ min: 0.2, max: 5, noNaN: true }), (a, b, c) => {
        const moved = some.map(([x, y]) => [c * x + a * y + 1e4 * a, c * y + b]);
        const determinant = c * c;
        fc.pre(determinant > 0.01);
        const after = chartOf(hotellingChart(moved)).main.values;
        after.forEach((value, index) => expectDigits(value!, before[index]!, 7));
      }),
      { seed: 41, numRuns: 50 },
    );
  });

  it("is square of the standardised value for one component", () => {
    const { main } = chartOf(hotellingChart([[1], [2], [4], [5], [8]]));
    // mean 4, variance 7.5, by hand
    expectDigits(main.values[0]!, 9 / 7.5, 12);
  });

  it("signals at the point beyond the limit and leaves out excluded ones", () => {
    const some = [...vectors(30, 10), [60, -60] as ClockVector];
    const inside = chartOf(hotellingChart(some)).main;
    expect(signalledFrom1(inside)).toEqual([31]);
    const { main } = chartOf(hotellingChart(some, { excluded: [30] }));
    expect(main.signals).toEqual([]);
    expect(main.estimates.count).toBe(30);
    expect(main.values[30]!).toBeGreaterThan(100);
  });

  it("gives a reason in words instead of a chart", () => {
    expect(hotellingChart([])).toMatchObject({ ok: false, reason: "There is no vector to chart." });
    expect(hotellingChart([[1, 2]])).toMatchObject({ ok: false, reason: expect.stringContaining("there is 1") });
    const equal = Array.from({ length: 10 }, () => [0.1, 0.2]);
    expect(hotellingChart(equal)).toMatchObject({ ok: false, reason: expect.stringContaining("does not vary") });
    const dependent = vectors(10, 1).map(([a]) => [a, 2 * a]);
    expect(hotellingChart(dependent)).toMatchObject({ ok: false, reason: expect.stringContaining("follows from") });
    expect(hotellingMeanChart([[[1, 2]], [[2, 3]]])).toMatchObject({ ok: false });
    expect(hotellingMeanChart([])).toMatchObject({ ok: false });
  });

  it("refuses wrong input by name and place", () => {
    expect(() => hotellingChart([[1, 2], [3]])).toThrow("got 1 (at index 1)");
    expect(() => hotellingChart([[1, NaN]])).toThrow("must be finite; got NaN (at index 0)");
    expect(() => hotellingMeanChart([[]])).toThrow("must not be empty");
    const flat = {
      mean: [0, 0],
      covariance: [
        [1, 1],
        [1, 1],
      ],
      count: 9,
      degreesOfFreedom: 8,
    };
    expect(() => hotellingChart(vectors(4, 1), { baseline: flat })).toThrow("positive definite");
    expect(() =>
      hotellingChart(vectors(4, 1), {
        baseline: {
          ...flat,
          covariance: [
            [1, 0.2],
            [0.1, 1],
          ],
        },
      }),
    ).toThrow("symmetric");
  });
});

describe("targetPlot", () => {
  it("covers the true mean and the next frame at the stated rate", () => {
    const tries = 4000;
    const hits = { mean: 0, frame: 0, meanCircle: 0, frameCircle: 0 };
    const truth: ClockVector = [4, -3];
    const inside = (
      region: { semiMajor: number; semiMinor: number; directionDegrees: number },
      [a, b]: ClockVector,
    ) => {
      const angle = (region.directionDegrees * Math.PI) / 180;
      const along = a * Math.cos(angle) + b * Math.sin(angle);
      const across = -a * Math.sin(angle) + b * Math.cos(angle);
      return (along / region.semiMajor) ** 2 + (across / region.semiMinor) ** 2 <= 1;
    };
    for (let index = 0; index < tries; index++) {
      const [next, ...seen] = vectors(13, 5000 + index, truth);
      const plot = targetPlot(seen);
      if (!plot.ok) throw new Error(plot.reason);
      const { mean, meanRegion, frameRegion } = plot.value;
      if (inside(meanRegion.ellipse, [truth[0] - mean[0], truth[1] - mean[1]])) hits.mean++;
      if (inside(frameRegion.ellipse, [next![0] - mean[0], next![1] - mean[1]])) hits.frame++;
      const { normal } = createSeededGenerator(50_000 + index);
      const round = Array.from({ length: 13 }, (): ClockVector => [normal(), normal()]);
      const circle = targetPlot(round.slice(1));
      if (!circle.ok) throw new Error(circle.reason);
      if (Math.hypot(...circle.value.mean) <= circle.value.meanRegion.circleRadius) hits.meanCircle++;
      const away = Math.hypot(round[0]![0] - circle.value.mean[0], round[0]![1] - circle.value.mean[1]);
      if (away <= circle.value.frameRegion.circleRadius) hits.frameCircle++;
    }
    // nominal 0.95; three standard errors of 4000 tries are 0.0103
    for (const count of Object.values(hits)) expect(Math.abs(count / tries - 0.95)).toBeLessThan(0.0103);
  });

  it("gives direction, axes and roundness of a cloud known by hand", () => {
    const cross: ClockVector[] = [
      [2, 0],
      [-2, 0],
      [0, 1],
      [0, -1],
    ];
    const plot = targetPlot(cross.map(([a, b]) => [a + 3, b + 3]));
    if (!plot.ok) throw new Error(plot.reason);
    const { value } = plot;
    expect(value.mean).toEqual([3, 3]);
    expectDigits(value.directionDegrees!, 45, 12);
    expectDigits(value.meanRegion.ellipse.semiMajor / value.meanRegion.ellipse.semiMinor, 2, 12);
    expect(value.meanRegion.ellipse.directionDegrees).toBe(0);
    // variances 8/3 and 2/3: W = 4 (16/9) / (10/3)^2 = 0.64, p = W^((4 - 2) / 2)
    expectDigits(value.roundnessP, 0.64, 12);
    // 2 (n - 1) / (n - 2) F(0.05; 2, 2) / n = 3 x 19 / 4, F(0.05; 2, 2) = 19 (any F table)
    expectDigits(value.meanRegion.ellipse.semiMajor, Math.sqrt(((3 * 19) / 4) * (8 / 3)), 9);
    expect(clockDegrees([0, -1])).toBe(270);
  });

  it("gives a reason in words instead of a plot", () => {
    expect(targetPlot([])).toMatchObject({ ok: false });
    expect(targetPlot([[1, 1]])).toMatchObject({ ok: false, reason: expect.stringContaining("there is 1") });
    expect(targetPlot(Array.from({ length: 5 }, () => [1, 1]))).toMatchObject({ ok: false });
    expect(() => targetPlot([[1, Infinity]])).toThrow("finite");
  });
});
