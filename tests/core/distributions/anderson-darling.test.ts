import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import {
  andersonDarlingFitted,
  andersonDarlingNormal,
  andersonDarlingNormalP,
  andersonDarlingStatistic,
} from "@/lib/core/distributions/anderson-darling";
import { type DistributionModel, modelQuantile } from "@/lib/core/distributions/distribution-model";
import { fitDistribution, type FittedFamily } from "@/lib/core/distributions/fit-distribution";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";
import reference from "../../reference/anderson-darling.json";
import strd from "../../reference/strd-univariate.json";

const chick = reference.cases.find(({ id }) => id === "ad-chick-weights");
const lew = reference.cases.find(({ id }) => id === "ad-strd-Lew");

describe("Anderson-Darling", () => {
  it("reproduces the chick weights, parameters known and estimated", () => {
    // D'Agostino & Stephens 1986, table 4.1; scipy recomputation in the reference
    const x = chick?.input.x ?? [];
    expectDigits(andersonDarlingStatistic(x, { family: "normal", mean: 200, sd: 35 }), 1.0168494330351976, 12);
    const test = andersonDarlingNormal(x);
    expectDigits(test.statistic, 0.21417425823119984, 11);
    expectDigits(test.adjusted, 0.22341052311742035, 11);
    expectDigits(test.p, 0.8259764080099363, 10);
  });

  it("reproduces a sample that is anything but normal", () => {
    // data of NIST StRD Lew; statistic and p computed with scipy (reference)
    const data = strd.cases.find(({ id }) => id === "strd-Lew")?.input.data ?? [];
    const test = andersonDarlingNormal(data);
    expectDigits(test.statistic, lew?.expected.A2 ?? NaN, 10);
    expectDigits(test.adjusted, 6.02348687809909, 10);
    expectDigits(test.p, 8.32482770383869e-15, 9);
  });

  it("has the published percentage points of every approximation at its level in simulation", () => {
    // a p value is uniform under its own hypothesis: share below 0.05 and 0.2 within 4 standard errors plus 0.01 of the formula
    const families: readonly [FittedFamily, DistributionModel][] = [
      ["normal", { family: "normal", mean: 3, sd: 2 }],
      ["lognormal", { family: "lognormal", logMean: 1, logSd: 0.4 }],
      ["weibull", { family: "weibull", shape: 1.7, scale: 2 }],
      ["rayleigh", { family: "rayleigh", sigma: 1 }],
    ];
    const generator = createSeededGenerator(20);
    for (const [family, model] of families) {
      let below5 = 0;
      let below20 = 0;
      for (let sample = 0; sample < 1500; sample++) {
        const x = Array.from({ length: 50 }, () => modelQuantile(model, Math.max(generator.uniform(), 1e-16)));
        const fit = fitDistribution(family, x);
        const p = fit === null ? NaN : andersonDarlingFitted(x, fit.model, { seed: 1 }).p;
        if (p < 0.05) below5 += 1;
        if (p < 0.2) below20 += 1;
      }
      expect(Math.abs(below5 / 1500 - 0.05), `${family} 5 %: ${below5 / 1500}`).toBeLessThan(0.0325);
      expect(Math.abs(below20 / 1500 - 0.2), `${family} 20 %: ${below20 / 1500}`).toBeLessThan(0.0513);
    }
  });

  it("keeps its level for the Rice distribution by simulation and repeats for one seed", () => {
    const generator = createSeededGenerator(3);
    const x = Array.from({ length: 80 }, () => Math.hypot(20 + 8 * generator.normal(), 8 * generator.normal()));
    const fit = fitDistribution("rice", x);
    if (fit === null) throw new Error("Rice must fit");
    const first = andersonDarlingFitted(x, fit.model, { seed: 9 });
    expect(first.p).toBeGreaterThan(0.05);
    expect(andersonDarlingFitted(x, fit.model, { seed: 9 })).toEqual(first);
    const skew = x.map((v) => v ** 4);
    const bad = fitDistribution("rice", skew);
    if (bad === null) throw new Error("Rice must fit");
    expect(andersonDarlingFitted(skew, bad.model, { seed: 9 }).p).toBeLessThan(0.02);
  });

  it("refuses few, equal and not finite values", () => {
    expect(() => andersonDarlingNormal([1, 2, 3])).toThrow(CoreError);
    expect(() => andersonDarlingNormal(Array(20).fill(3))).toThrow(CoreError);
    expect(() => andersonDarlingNormal([1, 2, 3, 4, 5, 6, 7, NaN])).toThrow(CoreError);
  });
});

describe("andersonDarlingNormalP", () => {
  const formula = reference.cases.find(({ id }) => id === "ad-p-formula");

  it("reproduces the four branches", () => {
    // scipy-independent recomputation of the formula of table 4.9 (reference, computed)
    const computed = Object.entries(formula?.computed ?? {});
    expect(computed).toHaveLength(14);
    for (const [a, p] of computed) expectDigits(andersonDarlingNormalP(Number(a)), Number(p), 12);
  });

  it("gives the published percentage points", () => {
    // D'Agostino & Stephens 1986, table 4.7: tolerance 5e-4 as the reference states
    const points = Object.entries(formula?.expected.p_at_points ?? {});
    expect(points).toHaveLength(5);
    for (const [a, p] of points) expect(Math.abs(andersonDarlingNormalP(Number(a)) - Number(p))).toBeLessThan(5e-4);
  });
});
