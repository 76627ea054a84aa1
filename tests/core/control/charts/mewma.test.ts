import { describe, expect, it } from "vitest";
import { mewmaChart } from "@/lib/core/control/charts/mewma-chart";
import { mewmaLimitFor, mewmaRunLength } from "@/lib/core/control/run-length/mewma-run-length";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import reference from "@/tests/reference/mewma-run-length.json";
import { chartOf } from "./chart-of";

const KNOWN = {
  mean: [0, 0],
  covariance: [
    [1, 0],
    [0, 1],
  ],
  count: null,
  degreesOfFreedom: null,
};

describe("mewmaRunLength", () => {
  it.each(reference.cases)("agrees with simulation and print: p $dimensions, lambda $lam, shift $shift", (each) => {
    const length = mewmaRunLength({ dimensions: each.dimensions, lambda: each.lam, limit: each.limit }, each.shift);
    const { mean, standardError } = each.simulated;
    expect(Math.abs(length - mean)).toBeLessThan(3.5 * standardError);
    // the published Markov chain is coarse: 1 % (see mewma-run-length.source.md)
    if (each.printed !== null) expect(Math.abs(length / each.printed - 1)).toBeLessThan(0.011);
  });

  it("gives the published limit", () => {
    // Rigdon 1995, Journal of Statistical Computation and Simulation 52 351-365, table 1
    expect(mewmaLimitFor(4, 0.25, 500).toFixed(2)).toBe("16.38");
  });

  it("is T2 with known limits at lambda 1", () => {
    // exact: 1 / P(chi2(2) > limit) = exp(limit / 2)
    expectDigits(mewmaRunLength({ dimensions: 2, lambda: 1, limit: 10.6 }), Math.exp(5.3), 10);
    expectDigits(mewmaLimitFor(2, 1, 200), 2 * Math.log(200), 8);
  });

  it("gives the limit whose run length was asked for, at the corners of the range", () => {
    for (const [p, lambda, runLength] of [
      [2, 0.02, 370],
      [10, 0.02, 1e5],
      [2, 0.5, 10],
      [3, 0.1, 1000],
    ] as const) {
      const limit = mewmaLimitFor(p, lambda, runLength);
      expectDigits(mewmaRunLength({ dimensions: p, lambda, limit }), runLength, 6);
    }
  });

  it("falls as the shift grows, from the length without one", () => {
    const design = { dimensions: 2, lambda: 0.1, limit: 8.64 };
    expectDigits(mewmaRunLength(design, 1e-6), mewmaRunLength(design), 5);
    const lengths = [0, 0.4, 1, 3].map((shift) => mewmaRunLength(design, shift));
    lengths.slice(1).forEach((length, index) => expect(length).toBeLessThan(lengths[index]!));
  });

  it("refuses designs outside its range", () => {
    expect(() => mewmaRunLength({ dimensions: 1, lambda: 0.1, limit: 8 })).toThrow("dimensions");
    expect(() => mewmaRunLength({ dimensions: 2, lambda: 0, limit: 8 })).toThrow("lambda");
    expect(() => mewmaRunLength({ dimensions: 2, lambda: 0.1, limit: NaN })).toThrow("limit");
    expect(() => mewmaRunLength({ dimensions: 2, lambda: 0.1, limit: 8 }, -1)).toThrow("shift");
    expect(() => mewmaLimitFor(2, 0.1, 5)).toThrow("runLength");
  });
});

describe("mewmaChart", () => {
  it("gives the averages of a short series by hand", () => {
    const { main } = chartOf(
      mewmaChart(
        [
          [1, 0],
          [1, 2],
        ],
        { baseline: KNOWN, lambda: 0.5, limit: 2 },
      ),
    );
    // z = (0.5, 0), (0.75, 1); divided by lambda / (2 - lambda) = 1/3
    expectDigits(main.values[0]!, 0.75, 12);
    expectDigits(main.values[1]!, 3 * (0.75 ** 2 + 1), 12);
    expect(main.signals).toEqual([{ index: 1, rule: "test-1", side: "upper", points: [1] }]);
    const exact = chartOf(mewmaChart([[1, 0]], { baseline: KNOWN, lambda: 0.5, covariance: "exact" })).main;
    // exact covariance after one vector is lambda^2 S: T2 of the vector itself
    expectDigits(exact.values[0]!, 1, 12);
  });

  it("has the run length its limit was made for", () => {
    const { normal } = createSeededGenerator(41);
    const vectors = Array.from({ length: 60_000 }, () => [normal(), normal()]);
    const { main } = chartOf(mewmaChart(vectors, { baseline: KNOWN, lambda: 0.2, inControl: 100 }));
    let [runs, start, from] = [0, 0, 0];
    // zero-state run lengths: start anew after each signal
    while (from < vectors.length) {
      const rest = chartOf(
        mewmaChart(vectors.slice(from, from + 2000), {
          baseline: KNOWN,
          lambda: 0.2,
          limit: main.estimates.details.limit!,
        }),
      ).main.signals[0];
      if (rest === undefined) break;
      runs++;
      from += rest.index + 1;
      start = from;
    }
    const mean = start / runs;
    expect(runs).toBeGreaterThan(400);
    // a run length is nearly geometric: standard error mean / sqrt(runs)
    expect(Math.abs(mean - 100)).toBeLessThan((3 * 100) / Math.sqrt(runs));
  });

  it("finds a small shift from its own covariance of successive differences", () => {
    const { normal } = createSeededGenerator(7);
    const vectors = Array.from({ length: 120 }, (_, index) => [normal() + (index < 60 ? 0 : 1.2), normal()]);
    const { main } = chartOf(mewmaChart(vectors));
    expect(main.phase).toBe(1);
    expect(main.signals.length).toBeGreaterThan(0);
  });

  it("leaves excluded vectors out and gives reasons in words", () => {
    const { main } = chartOf(
      mewmaChart(
        [
          [1, 0],
          [99, 99],
          [1, 0],
        ],
        { baseline: KNOWN, lambda: 0.5, excluded: [1] },
      ),
    );
    expect(main.values[1]).toBeNull();
    expectDigits(main.values[2]!, 3 * 0.75 ** 2, 12);
    expect(mewmaChart([])).toMatchObject({ ok: false });
    expect(mewmaChart([[1, 2]])).toMatchObject({ ok: false, reason: expect.stringContaining("at least 5 vectors") });
    expect(mewmaChart(Array.from({ length: 9 }, () => [1, 1]))).toMatchObject({ ok: false });
    expect(() => mewmaChart([[NaN, 1]])).toThrow("finite");
    expect(() => mewmaChart([[1, 1]], { lambda: 2 })).toThrow("lambda");
  });
});
