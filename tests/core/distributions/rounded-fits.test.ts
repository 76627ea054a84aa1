import { describe, expect, it } from "vitest";
import {
  chooseDistribution,
  mostLikelyModel,
  SIZE_FAMILIES,
  ZERO_BOUND_FAMILIES,
} from "@/lib/core/capability/choose-distribution";
import { andersonDarlingRounded } from "@/lib/core/distributions/anderson-darling";
import { type DistributionModel, modelQuantile, modelUpperQuantile } from "@/lib/core/distributions/distribution-model";
import { fitDistribution, type FittedFamily } from "@/lib/core/distributions/fit-distribution";
import { fitRounded, fitRoundedNormal, spreadValues } from "@/lib/core/distributions/fit-rounded";
import {
  intervalOf,
  roundedSampleOf,
  shownAs,
  shownMoments,
  valueGrid,
  withoutNoise,
} from "@/lib/core/distributions/rounded-sample";
import { normalCdf } from "@/lib/core/distributions/normal";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";
import reference from "../../reference/rounded-fits.json";

const rounded = (values: readonly number[], step: number) => values.map((value) => step * Math.round(value / step));

function lengths(n: number, sigma: number, seed: number): number[] {
  const generator = createSeededGenerator(seed);
  return Array.from({ length: n }, () => Math.hypot(sigma * generator.normal(), sigma * generator.normal()));
}

describe("valueGrid", () => {
  it("finds the step of rounded values, whatever their offset, and none in exact ones", () => {
    const raw = lengths(300, 10, 1);
    for (const step of [0.5, 1, 5, 10]) {
      expectDigits(valueGrid(rounded(raw, step))?.step ?? NaN, step, 9);
      const offset = rounded(raw, step).map((value) => 40 + value / 1000);
      expectDigits(valueGrid(offset)?.step ?? NaN, step / 1000, 6);
    }
    // A common divisor that no two neighbours are apart: 6, 10 and 15.
    expectDigits(valueGrid([6, 10, 15, 21, 31, 36, 46, 60, 90, 100])?.step ?? 1, 1, 9);
    expect(valueGrid(raw)).toBeNull();
  });

  it("takes a step that is lost in the sampling error for exact", () => {
    expect(valueGrid(rounded(lengths(300, 10, 1), 0.1))).toBeNull();
  });

  it("lets a zero stand for all below what is shown beside it", () => {
    const raw = lengths(300, 10, 1);
    const smallest = raw.slice(1).reduce((a, b) => Math.min(a, b));
    expect(valueGrid([0, ...raw.slice(1)])).toMatchObject({ step: null, zeroEnd: smallest });
    const one = valueGrid(rounded(lengths(3000, 3, 2), 1));
    expect(one).toMatchObject({ zeroEnd: 0.5 });
    if (one === null) throw new Error("a grid of 1");
    expect(intervalOf(one, 0)).toEqual([-Infinity, 0.5]);
    expect(intervalOf(one, 3)).toEqual([2.5, 3.5]);
    expect([shownAs(one, 0.3), shownAs(one, 3.4), shownAs(one, 3.6)]).toEqual([0, 3, 4]);
  });

  it("takes tied values without a common step as far as half way to their neighbours", () => {
    const ties = [0, 0, 0, 5, 5, 5, 5, 7.0711, 7.0711, 10, 10, 10, 11.1803, 11.1803];
    const grid = valueGrid(ties);
    expect(grid?.step).toBeNull();
    if (grid === null) throw new Error("an uneven grid");
    expectDigits(grid.zeroEnd ?? NaN, 5 - 2.9289 / 2, 9);
    const [low, high] = intervalOf(grid, 7.0711);
    expectDigits(low, (5 + 7.0711) / 2, 9);
    expectDigits(high, (7.0711 + 10) / 2, 9);
  });

  it("knows noise of arithmetic from a value", () => {
    expect(withoutNoise([12, 7e-12, -3e-12, 1e-3])).toEqual([12, 0, 0, 1e-3]);
    expect(withoutNoise([1e-12, 3e-12])).toEqual([1e-12, 3e-12]);
  });

  it("refuses a resolution that is none", () => {
    for (const resolution of [0, -1, NaN, Infinity]) expect(() => valueGrid([1, 2], { resolution })).toThrow(/> 0/);
  });
});

describe("fitRounded", () => {
  it("has the greatest likelihood of grouped and censored data", () => {
    for (const { name, input, expected } of reference.cases) {
      const family = input.family as FittedFamily;
      const step = /rounded to ([\d.]+)/.exec(name)?.[1];
      const sample = roundedSampleOf(input.values, step === undefined ? {} : { resolution: Number(step) });
      if (sample === null) throw new Error(name);
      const fit = family === "normal" ? fitRoundedNormal(sample) : fitRounded(family, sample);
      expectDigits(fit?.logLikelihood ?? NaN, expected.logLikelihood, 10);
      for (const [parameter, value] of Object.entries(expected.model))
        expectDigits((fit?.model as unknown as Record<string, number>)[parameter] ?? NaN, value, reference.digits - 1);
    }
  });

  it("is the fit of exact values in the limit of a fine resolution", () => {
    const raw = lengths(200, 10, 3);
    const sample = roundedSampleOf(rounded(raw, 0.01), { resolution: 0.6 });
    if (sample === null) throw new Error("known to 0.6");
    for (const family of ["rayleigh", "rice", "folded-normal", "weibull", "lognormal"] as const) {
      const exact = fitDistribution(family, raw)?.model;
      const model = fitRounded(family, sample)?.model;
      if (exact === undefined || model === undefined) throw new Error(family);
      expect(Math.abs(modelQuantile(model, 0.5) / modelQuantile(exact, 0.5) - 1), family).toBeLessThan(0.01);
    }
  });

  it("does not mind the unit", () => {
    const x = rounded(lengths(150, 10, 4), 2);
    for (const family of ["rayleigh", "weibull", "lognormal", "rice", "folded-normal"] as const) {
      const at = (factor: number) => {
        const sample = roundedSampleOf(x.map((value) => value * factor));
        const model = sample === null ? undefined : fitRounded(family, sample)?.model;
        return model === undefined ? NaN : modelUpperQuantile(model, 0.001) / factor;
      };
      for (const factor of [1e-9, 1e-3, 1e6]) expectDigits(at(factor), at(1), 6);
    }
  });

  it("gives mean and deviation as shown for the normal distribution, and spreads values over what they stand for", () => {
    const sample = roundedSampleOf([1, 1, 2, 2, 2, 2, 3, 3, 3, 4, 5, 0]);
    if (sample === null) throw new Error("a grid of 1");
    // elementary: mean 28 / 12, squares 86
    expectDigits(shownMoments(sample).mean, 28 / 12, 14);
    expectDigits(shownMoments(sample).sd, Math.sqrt((86 - 28 ** 2 / 12) / 11), 13);
    expect(fitRounded("normal", sample)?.model).toMatchObject({ family: "normal", mean: 28 / 12 });
    const spread = spreadValues(sample);
    expect(spread).toHaveLength(12);
    expect(spread.slice(0, 3)).toEqual([0.25, 0.75, 1.25]);
  });

  it("has no two parameters from two different values", () => {
    const mostlyZero = [...Array<number>(290).fill(0), ...Array<number>(10).fill(1)];
    expect(mostLikelyModel(mostlyZero, ["weibull", "lognormal"])).toBeNull();
    expect(mostLikelyModel(mostlyZero, ZERO_BOUND_FAMILIES)).not.toBeNull();
  });
});

describe("the choice of distribution of coarse values", () => {
  it("stays with one value of 0, its noise, and every usual resolution", () => {
    const raw = lengths(300, 10, 1);
    const quantile = (x: readonly number[]) => modelUpperQuantile(chosen(x), 0.00135);
    const chosen = (x: readonly number[]): DistributionModel => {
      const model = mostLikelyModel(x, ZERO_BOUND_FAMILIES);
      if (model === null) throw new Error("Rayleigh holds them all");
      return model;
    };
    const exact = quantile(raw);
    expect(chooseDistribution([0, ...raw.slice(1)], ZERO_BOUND_FAMILIES, 1).family).toBe("rayleigh");
    expect(chosen(raw).family).toBe("rayleigh");
    const zeros: readonly (readonly number[])[] = [
      [0, ...raw.slice(1)],
      [7e-12, ...raw.slice(1)],
      [-7e-12, ...raw.slice(1)],
      [0, ...rounded(raw.slice(1), 0.1)],
      ...[0.5, 1, 5, 10].map((step) => rounded(raw, step)),
    ];
    for (const x of zeros) {
      expect(chosen(x).family).toBe("rayleigh");
      expect(Math.abs(quantile(x) / exact - 1)).toBeLessThan(0.02);
    }
  });

  it("does not take ties for a misfit: a coarse normal gauge keeps the level of the test", () => {
    const generator = createSeededGenerator(8);
    for (const step of [0.25, 1]) {
      let [plain, spread] = [0, 0];
      for (let sample = 0; sample < 300; sample++) {
        const x = rounded(
          Array.from({ length: 300 }, () => 40 + generator.normal()),
          step,
        );
        const known = roundedSampleOf(x);
        const fit = fitDistribution("normal", x);
        if (known === null || fit === null) throw new Error("rounded");
        if (andersonDarlingRounded(known, fit.model, { seed: 1 }).p < 0.05) spread += 1;
        if (chooseDistribution(x, SIZE_FAMILIES, 1).candidates.every(({ reason }) => reason === "rejected-by-fit"))
          plain += 1;
      }
      // 5 % of 300, three standard errors above; none below, since the test is cautious
      expect(spread / 300).toBeLessThan(0.05 + 3 * Math.sqrt(0.0475 / 300));
      expect(plain).toBe(0);
    }
  });

  it("still rejects what does not fit", () => {
    const generator = createSeededGenerator(9);
    const skewed = rounded(
      Array.from({ length: 300 }, () => Math.exp(1.5 + 0.8 * generator.normal())),
      1,
    );
    const { candidates } = chooseDistribution(skewed, ["rayleigh", "normal", "lognormal"], 1);
    expect(candidates.map(({ reason }) => reason)).toEqual(["rejected-by-fit", "rejected-by-fit", "chosen"]);
  });
});

describe("an offset behind a dip of the likelihood", () => {
  /** Best of a lattice of 200 x 200 (mean, scale): an independent search; mass of both sides of 0 by the normal law. */
  function bestOnLattice(
    classes: readonly (readonly [low: number, high: number, count: number])[],
    top: number,
  ): number {
    let best = -Infinity;
    for (let i = 0; i <= 200; i++)
      for (let k = 1; k <= 200; k++) {
        const [mu, sigma] = [(top * i) / 200, (top * k) / 200];
        const below = (x: number) => normalCdf((x - mu) / sigma) - normalCdf((-x - mu) / sigma);
        best = Math.max(
          best,
          classes.reduce((sum, [low, high, count]) => sum + count * Math.log(below(high) - below(low)), 0),
        );
      }
    return best;
  }

  it.each([
    [
      [0, 0.75, 6],
      [0.75, 2.25, 23],
      [3.75, 5.25, 1],
    ],
    [
      [0, 0.5, 2],
      [0.5, 1.5, 22],
      [1.5, 2.5, 5],
      [3.5, 4.5, 1],
    ],
    [
      [0, 0.75, 78],
      [0.75, 2.25, 208],
      [2.25, 3.75, 12],
      [5.25, 6.75, 2],
    ],
  ] as const)("is found for the folded normal distribution, classes %j ...", (...classes) => {
    const values = classes.flatMap(([low, high, count]) =>
      new Array<number>(count).fill(low === 0 ? 0 : (low + high) / 2),
    );
    const sample = roundedSampleOf(values);
    const fit = sample === null ? null : fitRounded("folded-normal", sample);
    expect(fit?.logLikelihood ?? -Infinity).toBeGreaterThanOrEqual(bestOnLattice(classes, 4));
  });
});
