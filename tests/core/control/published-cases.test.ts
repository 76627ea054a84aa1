import { describe, expect, it } from "vitest";
import { attributeChart } from "@/lib/core/control/charts/attribute-chart";
import { cusumRunLength } from "@/lib/core/control/run-length/cusum-run-length";
import { ewmaRunLength } from "@/lib/core/control/run-length/ewma-run-length";
import { individualsChart } from "@/lib/core/control/charts/individuals-chart";
import { varianceComponents } from "@/lib/core/control/causes/variance-components";
import { noncentralTQuantile } from "@/lib/core/distributions/noncentral-t";
import { normalQuantile } from "@/lib/core/distributions/normal";
import { chartOf } from "./charts/chart-of";

/** Agrees with a number printed to so many decimals. */
function expectPrinted(actual: number, printed: number, decimals: number): void {
  expect(Math.abs(actual - printed), `${actual} against ${printed}`).toBeLessThan(0.5 * 10 ** -decimals + 1e-9);
}

describe("individuals of the textbooks", () => {
  it("viscosity of primer paint", () => {
    // Montgomery, Introduction to Statistical Quality Control, example of individuals (15 batches), typed from memory: centre
    // 33.52, limits 32.24 and 34.80 from a mean moving range of 0.48, its limit 1.57
    const values = [
      33.75, 33.05, 34.0, 33.81, 33.46, 34.02, 33.68, 33.27, 33.49, 33.2, 33.62, 33.0, 33.54, 33.12, 33.84,
    ];
    const { main, companions } = chartOf(individualsChart(values, { constants: "printed" }));
    expectPrinted(main.centre[0]!, 33.52, 2);
    expectPrinted(main.lower[0]!, 32.24, 2);
    expectPrinted(main.upper[0]!, 34.8, 2);
    expectPrinted(companions[0]!.upper[1]!, 1.57, 2);
    expect(main.signals).toEqual([]);
  });

  it("costs of processing loans", () => {
    // Montgomery, 6th and 7th ed., example 6.5 (20 weeks), typed from memory: 300.5, 7.79, limits 279.78 and 321.22
    const values = [310, 288, 297, 298, 307, 303, 294, 297, 308, 306, 294, 299, 297, 299, 314, 295, 293, 306, 301, 304];
    const { main, estimates } = chartOf(individualsChart(values, { constants: "printed" }));
    expectPrinted(main.centre[0]!, 300.5, 2);
    expectPrinted(estimates.details.meanMovingRange!, 7.79, 2);
    expectPrinted(main.lower[0]!, 279.78, 2);
    expectPrinted(main.upper[0]!, 321.22, 2);
  });
});

describe("counts of the textbooks", () => {
  it("nonconformities on 26 samples of printed circuit boards", () => {
    // Montgomery, example 7.3, typed from memory: 516 in all, centre 19.85, limits 6.48 and 33.22, samples 6 and 20 outside
    const counts = [
      21, 24, 16, 12, 15, 5, 28, 20, 31, 25, 20, 24, 16, 19, 10, 17, 13, 22, 18, 39, 30, 24, 16, 19, 17, 15,
    ];
    const { main } = chartOf(attributeChart(counts, { kind: "c" }));
    expectPrinted(main.centre[0]!, 19.85, 2);
    expect(Math.abs(main.lower[0]! - 6.48)).toBeLessThan(0.011); // printed from the rounded centre
    expect(Math.abs(main.upper[0]! - 33.22)).toBeLessThan(0.011);
    expect(main.signals.map(({ index, side }) => [index, side])).toEqual([
      [5, "lower"],
      [19, "upper"],
    ]);
  });

  it("nonconformities a unit of 20 samples of five computers", () => {
    // Montgomery, example 7.4, typed from memory: 193 in all, centre 1.93, limits 0.07 and 3.79
    const counts = [10, 12, 8, 14, 10, 16, 11, 7, 10, 15, 9, 5, 7, 11, 12, 6, 8, 10, 7, 5];
    const { main } = chartOf(attributeChart(counts, { kind: "u", sizes: 5 }));
    expectPrinted(main.centre[0]!, 1.93, 2);
    expectPrinted(main.lower[0]!, 0.07, 2);
    expectPrinted(main.upper[0]!, 3.79, 2);
  });

  it("dyed cloth: areas of different size", () => {
    // Montgomery, example 7.5, typed from memory: 153 in 107.5 units, centre 1.42, limit 2.55 at 10 units
    const counts = [14, 12, 20, 11, 7, 10, 21, 16, 19, 23];
    const sizes = [10, 8, 13, 10, 9.5, 10, 12, 10.5, 12, 12.5];
    const { main } = chartOf(attributeChart(counts, { kind: "u", sizes }));
    expectPrinted(main.centre[0]!, 1.42, 2);
    expect(Math.abs(main.upper[0]! - 2.55)).toBeLessThan(0.006); // printed from the rounded centre
  });

  it("purchase orders: samples of different size", () => {
    // Montgomery, table 7.4, typed from memory: 234 of 2450, proportion 0.096, sample 11 outside its limit
    const sizes = [
      100, 80, 80, 100, 110, 110, 100, 100, 90, 90, 110, 120, 120, 120, 110, 80, 80, 80, 90, 100, 100, 100, 100, 90, 90,
    ];
    const counts = [12, 8, 6, 9, 10, 12, 11, 16, 10, 6, 20, 15, 9, 8, 6, 8, 10, 7, 5, 8, 5, 8, 10, 6, 9];
    const { main } = chartOf(attributeChart(counts, { kind: "p", sizes }));
    expectPrinted(main.centre[0]!, 0.096, 3);
    expect(main.signals.map(({ index }) => index)).toEqual([10]);
  });
});

describe("run lengths of the papers", () => {
  // Crowder 1987, Technometrics 29(4) 401-407, table for L = 3 (typed from memory): weight, then shifts 0, 0.5, 1, 2, 4
  it.each([
    [1, [370.4, 155.22, 43.89, 6.3, 1.19]],
    [0.75, [374.5, 110.95, 25.64, 4.15, 1.2]],
    [0.5, [397.46, 75.35, 15.74, 3.47, 1.31]],
    [0.25, [502.9, 48.45, 11.15, 3.62, 1.73]],
    [0.1, [842.15, 37.41, 11.38, 4.67, 2.3]],
    [0.05, [1379.35, 37.33, 13.52, 6.0, 3.04]],
  ])("EWMA of weight %d with limits at three", (lambda, printed) => {
    [0, 0.5, 1, 2, 4].forEach((shift, index) =>
      expectPrinted(ewmaRunLength({ lambda, width: 3 }, shift), printed[index]!, 2),
    );
  });

  // Lucas and Crosier 1982, Technometrics 24(3) 199-205, table 1 (typed from memory): k = 0.5, head start h / 2, three digits
  it.each([
    [4, [149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.32, 1.07, 1.01]],
    [5, [430, 122, 28.7, 11.2, 6.35, 3.37, 2.36, 1.86, 1.54, 1.16, 1.02]],
  ])("CUSUM of h %d with a head start", (h, printed) => {
    [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5].forEach((shift, index) => {
      const mean = cusumRunLength({ k: 0.5, h, headStart: 0.5 }, shift);
      expect(Math.abs(mean / printed[index]! - 1), `${mean} at ${shift}`).toBeLessThan(0.006);
    });
  });
});

describe("other tables", () => {
  it("takes the moisture of pigment paste apart", () => {
    // Box, Hunter and Hunter, Statistics for Experimenters, nested study of 15 batches, 2 samples, 2 tests (typed from
    // memory): components 7.1 of batches, 28.5 of samples, 0.92 of tests
    const batches: readonly (readonly [readonly [number, number], readonly [number, number]])[] = [
      [
        [40, 39],
        [30, 30],
      ],
      [
        [26, 28],
        [25, 26],
      ],
      [
        [29, 28],
        [14, 15],
      ],
      [
        [30, 31],
        [24, 24],
      ],
      [
        [19, 20],
        [17, 17],
      ],
      [
        [33, 32],
        [26, 24],
      ],
      [
        [23, 24],
        [32, 33],
      ],
      [
        [34, 34],
        [29, 29],
      ],
      [
        [27, 27],
        [31, 31],
      ],
      [
        [13, 16],
        [27, 24],
      ],
      [
        [25, 23],
        [25, 27],
      ],
      [
        [29, 29],
        [31, 32],
      ],
      [
        [19, 20],
        [29, 30],
      ],
      [
        [23, 24],
        [25, 25],
      ],
      [
        [39, 37],
        [26, 28],
      ],
    ];
    const values = batches.flatMap((samples, batch) =>
      samples.flatMap((tests, sample) =>
        tests.map((value) => ({ value, levels: { batch: `${batch}`, sample: `${batch}-${sample}` } })),
      ),
    );
    const parts = varianceComponents(values, ["batch", "sample"]);
    if (!parts.ok) throw new Error(parts.reason);
    const of = (factor: string) => parts.value.components.find((part) => part.factor === factor)!.variance;
    expectPrinted(of("batch"), 7.1, 1);
    expectPrinted(of("sample"), 28.5, 1);
    expectPrinted(of("residual"), 0.92, 2);
  });

  it("one-sided tolerance factors", () => {
    // Owen 1963, Factors for one-sided tolerance limits (typed from memory): content, confidence, n, factor
    for (const [content, confidence, n, factor] of [
      [0.95, 0.95, 10, 2.911],
      [0.95, 0.95, 20, 2.396],
      [0.95, 0.95, 50, 2.065],
      [0.99, 0.95, 10, 3.981],
    ] as const) {
      const delta = normalQuantile(content) * Math.sqrt(n);
      expectPrinted(noncentralTQuantile(confidence, { df: n - 1, delta }) / Math.sqrt(n), factor, 3);
    }
  });
});
