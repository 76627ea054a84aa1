import { describe, expect, it } from "vitest";
import { ewmaRunLength } from "@/lib/core/control/run-length/ewma-run-length";
import { formEwma, formEwmaChart, formEwmaRunLength } from "@/lib/core/control/charts/form-ewma";
import type { DistributionModel } from "@/lib/core/distributions/distribution-model";
import { modelQuantile } from "@/lib/core/distributions/distribution-model";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "@/tests/helpers/expect-digits";
import { chartOf } from "./chart-of";

const models: readonly DistributionModel[] = [
  { family: "rayleigh", sigma: 3 },
  { family: "folded-normal", mu: 0, sigma: 2 },
  { family: "folded-normal", mu: 5, sigma: 1 },
  { family: "weibull", shape: 0.8, scale: 5 },
  { family: "weibull", shape: 1.8, scale: 5 },
  { family: "lognormal", logMean: 1, logSd: 0.8 },
  { family: "rice", offset: 20, sigma: 8 },
  { family: "rice", offset: 20, sigma: 0.5 },
  { family: "gamma", shape: 0.7, scale: 2 },
  { family: "johnson", system: "unbounded", gamma: 0, delta: 1.2, xi: 0, lambda: 1 },
  { family: "johnson", system: "bounded", gamma: 1, delta: 1, xi: 2, lambda: 10 },
];

describe("formEwmaRunLength", () => {
  it("is the run length of the one-sided normal chart for normal values", () => {
    // Crowder 1987 by the other module's panels; scale and place do not matter
    for (const [lambda, width] of [
      [0.2, 2.7],
      [0.1, 2.5],
      [1, 3],
    ] as const) {
      const spread = Math.sqrt(lambda / (2 - lambda));
      const model = { family: "normal", mean: 10, sd: 2 } as const;
      const design = { lambda, start: 10, limit: 10 + 2 * width * spread };
      expectDigits(formEwmaRunLength(model, design), ewmaRunLength({ lambda, width, sides: "upper" }), 7);
    }
  });

  it("is that of the limit alone at weight 1, for any distribution", () => {
    // elementary: 1 / P(X > limit), here 1 / 0.01
    for (const model of models) {
      const limit = modelQuantile(model, 0.99);
      const start = modelQuantile(model, 0.5);
      expectDigits(formEwmaRunLength(model, { lambda: 1, start, limit }), 100, 5);
    }
  });

  it.each(models)("agrees with simulation: %o", (model) => {
    const ewma = formEwma(model, { inControl: 200 });
    const generator = createSeededGenerator(51);
    const runs = 600;
    const lengths = Array.from({ length: runs }, () => {
      let average = ewma.start;
      for (let points = 1; ; points++) {
        const value =
          model.family === "rice"
            ? Math.hypot(model.offset + model.sigma * generator.normal(), model.sigma * generator.normal())
            : model.family === "folded-normal"
              ? Math.abs(model.mu + model.sigma * generator.normal())
              : modelQuantile(model, Math.max(generator.uniform(), 1e-16));
        average += ewma.lambda * (value - average);
        if (average > ewma.limit) return points;
      }
    });
    const mean = lengths.reduce((sum, length) => sum + length, 0) / runs;
    const sd = Math.sqrt(lengths.reduce((sum, length) => sum + (length - mean) ** 2, 0) / (runs - 1));
    expect(Math.abs(mean - 200)).toBeLessThan((3 * sd) / Math.sqrt(runs));
    // The coarser search of the limit leaves the run length within 1 %.
    expect(Math.abs(formEwmaRunLength(model, ewma) / 200 - 1)).toBeLessThan(0.01);
  });

  it("finds a widening sooner than a point beyond the limit does", () => {
    // elementary: a Rayleigh length beyond the 99.865 % quantile, 741 frames apart; half as wide again it is
    // exp(-(3.635 / 1.5)^2 / 2) -> every 18.8 frames
    const model = { family: "rayleigh", sigma: 1 } as const;
    const ewma = formEwma(model, { inControl: 741 });
    expect(formEwmaRunLength(model, ewma, 1.5)).toBeLessThan(18.8);
    expect(formEwmaRunLength(model, ewma, 1.2)).toBeLessThan(0.7 * Math.exp((3.635 / 1.2) ** 2 / 2));
  });

  it("refuses what cannot be", () => {
    const model = { family: "rayleigh", sigma: 1 } as const;
    expect(() => formEwma(model, { lambda: 0.01 })).toThrow("lambda");
    expect(() => formEwma(model, { inControl: 5 })).toThrow("inControl");
    expect(() => formEwma({ family: "rayleigh", sigma: 0 })).toThrow("> 0");
    expect(() => formEwma({ family: "weibull", shape: NaN, scale: 1 })).toThrow("> 0");
    expect(() => formEwmaRunLength(model, { lambda: 0.2, start: 1, limit: 1 })).toThrow("limit");
    expect(() => formEwmaRunLength(model, { lambda: 0.2, start: 1, limit: 8 })).toThrow("never signals");
    expect(() => formEwmaRunLength(model, { lambda: 0.2, start: 1, limit: 2 }, 0)).toThrow("factor");
  });
});

describe("formEwmaChart", () => {
  const ewma = { lambda: 0.25, start: 8, limit: 11 };

  it("gives the averages by hand, signals above and leaves excluded values out", () => {
    const { main } = chartOf(formEwmaChart([12, 99, 20], { ewma, excluded: [1], baseline: 120 }));
    // 8 + (12 - 8) / 4 = 9; 9 + (20 - 9) / 4 = 11.75
    expect(main.values).toEqual([9, null, 11.75]);
    expect(main.signals).toEqual([{ index: 2, rule: "ewma", side: "upper", points: [2] }]);
    expect(main.lower).toEqual([null, null, null]);
    expect(main.warnings).toEqual([]);
  });

  it("gives a reason without values and refuses wrong ones", () => {
    expect(formEwmaChart([], { ewma })).toMatchObject({ ok: false });
    expect(() => formEwmaChart([NaN], { ewma })).toThrow("finite");
    expect(() => formEwmaChart([1], { ewma: { ...ewma, limit: Infinity } })).toThrow("finite");
    expect(() => formEwmaChart([1], { ewma, excluded: [1] })).toThrow("excluded");
  });
});

describe("formEwma of rounded values", () => {
  it("has the run length that was asked for, whatever the resolution", () => {
    for (const model of [
      { family: "rayleigh", sigma: 3 },
      { family: "lognormal", logMean: 1, logSd: 0.5 },
    ] as const) {
      for (const resolution of [1.5, 3, 6]) {
        const { lambda, start, limit } = formEwma(model, { resolution, inControl: 370 });
        const random = createSeededGenerator(17);
        const runs = 2000;
        let [points, squares] = [0, 0];
        for (let run = 0; run < runs; run++) {
          let [average, length] = [start, 0];
          do {
            const value = modelQuantile(model, Math.max(random.uniform(), 1e-16));
            average += lambda * (resolution * Math.round(value / resolution) - average);
            length += 1;
          } while (average <= limit);
          points += length;
          squares += length ** 2;
        }
        const mean = points / runs;
        const error = Math.sqrt((squares / runs - mean ** 2) / runs);
        expect(Math.abs(mean - 370), `${model.family} ${resolution}: ${mean}`).toBeLessThan(0.05 * 370 + 3 * error);
      }
    }
  });

  it("is that of exact values for a fine resolution, and refuses one that is none", () => {
    const model = { family: "rayleigh", sigma: 3 } as const;
    expect(formEwma(model, { resolution: 0.1 })).toEqual(formEwma(model));
    for (const resolution of [0, -1, NaN]) expect(() => formEwma(model, { resolution })).toThrow(/resolution/);
  });
});
