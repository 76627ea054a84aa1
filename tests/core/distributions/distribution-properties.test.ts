import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CoreError } from "@/lib/core/errors";
import { betaCdf } from "@/lib/core/distributions/beta";
import {
  binomialCdf,
  binomialPmf,
  binomialSf,
  fractionInterval,
  fractionUpperBound,
} from "@/lib/core/distributions/binomial";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import {
  type DistributionModel,
  modelCdf,
  modelQuantile,
  modelSf,
  modelUpperQuantile,
} from "@/lib/core/distributions/distribution-model";
import { fisherFCdf } from "@/lib/core/distributions/fisher-f";
import { fitDistribution } from "@/lib/core/distributions/fit-distribution";
import { johnsonThrough } from "@/lib/core/distributions/fit-johnson";
import { gammaCdf, gammaQuantile } from "@/lib/core/distributions/gamma";
import { hypergeometricCdf, hypergeometricPmf } from "@/lib/core/distributions/hypergeometric";
import { noncentralityFromT, noncentralTCdf, noncentralTSf } from "@/lib/core/distributions/noncentral-t";
import { normalInterval, normalQuantile, normalSf } from "@/lib/core/distributions/normal";
import { pearsonQuantile } from "@/lib/core/distributions/pearson-quantile";
import { poissonPmf, poissonSf } from "@/lib/core/distributions/poisson";
import { riceDensity, riceSf } from "@/lib/core/distributions/rice";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";
import { cpuTime } from "../../helpers/machine-time";

const run = { seed: 41, numRuns: 60 };

const models: readonly DistributionModel[] = [
  { family: "normal", mean: 10, sd: 0.3 },
  { family: "folded-normal", mu: 0.003, sigma: 0.002 },
  { family: "lognormal", logMean: -5, logSd: 0.4 },
  { family: "weibull", shape: 1.8, scale: 0.006 },
  { family: "rayleigh", sigma: 0.004 },
  { family: "rice", offset: 0.02, sigma: 0.008 },
  { family: "gamma", shape: 4, scale: 0.001 },
  { family: "johnson", system: "bounded", gamma: 0.8, delta: 1.2, xi: 0, lambda: 1 },
  { family: "johnson", system: "unbounded", gamma: -1, delta: 1.5, xi: 2, lambda: 0.5 },
];

describe("distribution models", () => {
  it.each(models)("quantiles of $family invert their own tail and tails add up to 1", (model) => {
    fc.assert(
      fc.property(fc.double({ min: -13, max: Math.log10(0.499), noNaN: true }), (exponent) => {
        const p = 10 ** exponent;
        const low = modelQuantile(model, p);
        const high = modelUpperQuantile(model, p);
        expectDigits(modelCdf(model, low), p, 9);
        expectDigits(modelSf(model, high), p, 9);
        expect(low).toBeLessThan(high);
        expectDigits(modelCdf(model, low) + modelSf(model, low), 1, 12);
      }),
      run,
    );
  });
});

describe("fractionOutsideCircle", () => {
  const vector = fc.record({
    length: fc.double({ min: 0, max: 0.06, noNaN: true }),
    angle: fc.double({ min: 0, max: 6.28, noNaN: true }),
    sd: fc.double({ min: 0.004, max: 0.03, noNaN: true }),
  });

  it("is the Rice upper tail for equal variances, whatever the direction of the offset", () => {
    fc.assert(
      fc.property(vector, ({ length, angle, sd }) => {
        const mean = [length * Math.cos(angle), length * Math.sin(angle)] as const;
        const fraction = fractionOutsideCircle({ mean, covariance: [sd * sd, 0, sd * sd] }, 0.05);
        expectDigits(fraction, riceSf(0.05, { offset: length, sigma: sd }), 10);
      }),
      run,
    );
  });

  it("does not change when mean and covariance are turned about the axis, or all is scaled", () => {
    fc.assert(
      fc.property(vector, ({ length, angle, sd }) => {
        const [c, s] = [Math.cos(angle), Math.sin(angle)];
        const [v1, v2] = [sd * sd, 0.09 * sd * sd];
        const straight = fractionOutsideCircle({ mean: [length, 0.01], covariance: [v1, 0, v2] }, 0.05);
        const k = 1000;
        const turned = fractionOutsideCircle(
          {
            mean: [k * (c * length - s * 0.01), k * (s * length + c * 0.01)],
            covariance: [
              k * k * (c * c * v1 + s * s * v2),
              k * k * c * s * (v1 - v2),
              k * k * (s * s * v1 + c * c * v2),
            ],
          },
          0.05 * k,
        );
        expectDigits(turned, straight, 9);
      }),
      run,
    );
  });

  it("degenerates to one axis, and to 0 or 1 without any spread", () => {
    // elementary: one-dimensional normal tails
    expectDigits(
      fractionOutsideCircle({ mean: [0.01, 0], covariance: [1e-4, 0, 0] }, 0.05),
      normalSf(4) + normalSf(6),
      11,
    );
    expect(fractionOutsideCircle({ mean: [0.06, 0], covariance: [0, 0, 0] }, 0.05)).toBe(1);
    expect(fractionOutsideCircle({ mean: [0.04, 0], covariance: [0, 0, 0] }, 0.05)).toBe(0);
  });

  it("refuses a covariance that is none, and a zone without size", () => {
    expect(() => fractionOutsideCircle({ mean: [0, 0], covariance: [1, 2, 1] }, 1)).toThrow(CoreError);
    expect(() => fractionOutsideCircle({ mean: [0, 0], covariance: [1, 0, 1] }, 0)).toThrow(CoreError);
    expect(() => fractionOutsideCircle({ mean: [NaN, 0], covariance: [1, 0, 1] }, 1)).toThrow(CoreError);
  });
});

describe("discrete distributions", () => {
  it("their probabilities add up to their tails", () => {
    // definitions
    let binomial = 0;
    for (let k = 0; k <= 4; k++) binomial += binomialPmf(k, { n: 50, p: 0.07 });
    expectDigits(binomial, binomialCdf(4, { n: 50, p: 0.07 }), 11);
    expectDigits(binomialSf(4, { n: 50, p: 0.07 }), 1 - binomial, 11);
    let poisson = 0;
    for (let k = 4; k <= 60; k++) poisson += poissonPmf(k, 2.5);
    expectDigits(poissonSf(3, 2.5), poisson, 12);
    let lot = 0;
    for (let k = 0; k <= 2; k++) lot += hypergeometricPmf(k, { lotSize: 50, marked: 8, drawn: 13 });
    expectDigits(lot, hypergeometricCdf(2, { lotSize: 50, marked: 8, drawn: 13 }), 11);
  });

  it("bounds a fraction from counts so that the tail at the bound is the doubt allowed", () => {
    // Clopper & Pearson 1934: definition; rule of three for none found: 1 - 0.05^(1/300)
    expectDigits(fractionUpperBound(0, 300, 0.95), 1 - 0.05 ** (1 / 300), 11);
    expectDigits(binomialCdf(3, { n: 300, p: fractionUpperBound(3, 300, 0.95) }), 0.05, 10);
    const { lower, upper } = fractionInterval(3, 300, 0.95);
    expectDigits(binomialSf(2, { n: 300, p: lower }), 0.025, 10);
    expectDigits(binomialCdf(3, { n: 300, p: upper }), 0.025, 10);
    expect(fractionUpperBound(5, 5, 0.95)).toBe(1);
    expect(() => fractionUpperBound(6, 5, 0.95)).toThrow(CoreError);
  });
});

describe("noncentralityFromT", () => {
  it("inverts the noncentral t in its noncentrality", () => {
    fc.assert(
      fc.property(
        fc.double({ min: -5, max: 60, noNaN: true }),
        fc.integer({ min: 4, max: 300 }),
        fc.constantFrom(0.025, 0.05, 0.5, 0.975),
        (t, df, p) => {
          expectDigits(noncentralTCdf(t, { df, delta: noncentralityFromT(t, df, p) }), p, 9);
        },
      ),
      run,
    );
  });
});

describe("fitDistribution", () => {
  const generator = createSeededGenerator(7);
  const lengths = Array.from({ length: 200 }, () => Math.hypot(20 + 10 * generator.normal(), 10 * generator.normal()));

  it.each(["normal", "folded-normal", "lognormal", "weibull", "rayleigh", "rice"] as const)(
    "%s follows a change of unit",
    (family) => {
      const fit = fitDistribution(family, lengths);
      const scaled = fitDistribution(
        family,
        lengths.map((x) => x / 1000),
      );
      if (fit === null || scaled === null) throw new Error("the family must fit positive values");
      // a change of unit by 1000 adds n ln 1000 to the log likelihood (elementary)
      expectDigits(scaled.logLikelihood, fit.logLikelihood + 200 * Math.log(1000), 9);
      expectDigits(modelQuantile(scaled.model, 0.99) * 1000, modelQuantile(fit.model, 0.99), 6);
    },
  );

  it("finds the maximum likelihood that a general optimiser finds", () => {
    // scipy 1.17.1 rice, foldnorm and weibull_min log likelihoods maximised by Nelder-Mead on x_i = 0.5 i, i = 1..20
    const x = Array.from({ length: 20 }, (_, i) => 0.5 * (i + 1));
    expectDigits(fitDistribution("rice", x)?.logLikelihood ?? NaN, -49.20372818814035, 8);
    expectDigits(fitDistribution("folded-normal", x)?.logLikelihood ?? NaN, -48.45190516521146, 8);
    expectDigits(fitDistribution("weibull", x)?.logLikelihood ?? NaN, -49.13742988976099, 8);
  });

  it("gives null outside the support and refuses what cannot be fitted", () => {
    expect(fitDistribution("weibull", [0, 1, 2, 3])).toBeNull();
    expect(fitDistribution("folded-normal", [-1, 1, 2, 3])).toBeNull();
    expect(() => fitDistribution("normal", [1, 1, 1])).toThrow(CoreError);
    expect(() => fitDistribution("normal", [1, 2])).toThrow(CoreError);
    expect(() => fitDistribution("normal", [1, NaN, 2])).toThrow(CoreError);
  });
});

describe("Johnson curves", () => {
  const curve = fc.record({
    system: fc.constantFrom("unbounded" as const, "bounded" as const, "lognormal" as const),
    gamma: fc.double({ min: -3, max: 3, noNaN: true }),
    delta: fc.double({ min: 0.4, max: 4, noNaN: true }),
    xi: fc.double({ min: -5, max: 50, noNaN: true }),
    scale: fc.double({ min: 0.1, max: 20, noNaN: true }),
    z: fc.double({ min: 0.3, max: 1, noNaN: true }),
  });

  it("come back from four of their own quantiles", () => {
    fc.assert(
      fc.property(curve, ({ system, gamma, delta, xi, scale, z }) => {
        const lambda = system === "lognormal" ? 1 : scale;
        const model = { family: "johnson", system, gamma, delta, xi, lambda } as const;
        const found = johnsonThrough(
          [-3, -1, 1, 3].map((times) => modelQuantile(model, 1 - normalSf(times * z))),
          z,
        );
        expect(found?.system).toBe(system);
        for (const [name, value] of Object.entries({ gamma, delta, xi, lambda }))
          expect(Math.abs(found![name as "gamma"] - value) / Math.max(1, Math.abs(value)), name).toBeLessThan(1e-6);
      }),
      run,
    );
    expect(johnsonThrough([1, 1, 2, 3], 0.5)).toBeNull();
    expect(johnsonThrough([1, 2, 2, 3], 0.5)).toBeNull();
  });

  it("have the likelihood of their density", () => {
    const generator = createSeededGenerator(21);
    const x = Array.from({ length: 60 }, () => 10 + Math.sinh((generator.normal() + 0.5) / 1.5));
    const fit = fitDistribution("johnson", x)!;
    // central differences of the distribution function
    const density = (value: number) => (modelCdf(fit.model, value + 1e-5) - modelCdf(fit.model, value - 1e-5)) / 2e-5;
    expectDigits(
      x.reduce((sum, value) => sum + Math.log(density(value)), 0),
      fit.logLikelihood,
      7,
    );
  });
});

describe("far from the usual", () => {
  it("keeps Fisher's F at a hundred thousand degrees of freedom", () => {
    // mpmath 1.3.0, 50 digits, continued fraction of the incomplete beta function
    expectDigits(fisherFCdf(0.0079, [3, 99_999]), 0.0009635155956458864, 10.5);
    expectDigits(fisherFCdf(0.002, [50, 99_999]), 1.842131249626118e-58, 10.5);
  });

  it("keeps the noncentral t where the spread of sigma is all that matters", () => {
    // mpmath 1.3.0, 30 digits, integral over the normal variate
    expectDigits(noncentralTCdf(700, { df: 24, delta: 710 }), 0.42273052664705, 12);
    expectDigits(noncentralTSf(1e4, { df: 24, delta: 9e3 }), 0.271864824986009, 12);
    expectDigits(noncentralTCdf(2000, { df: 199, delta: 2200 }), 0.0229347958500534, 12);
    expectDigits(noncentralTSf(5e9, { df: 24, delta: 4e9 }), 0.0902184088051918, 12);
  });

  it("takes an offset a billion times its spread against a circle through it", () => {
    // elementary: the circle is a straight line at that scale; half lies outside, and what its bend adds,
    // phi(0) sd^2 / (2 R) / sd for an across sd of 1e-9: 1.99e-11
    const spread = [1e-16, 0, 1e-18] as const;
    const fraction = fractionOutsideCircle({ mean: [1, 0], covariance: spread }, 1);
    expect(Math.abs(fraction - 0.5 - 1.9947e-11)).toBeLessThan(1e-14);
    // elementary: one-dimensional normal tails; the other component moves the fraction by 1e-18
    const thin = { mean: [0.5, 0], covariance: [0.25, 0, 1e-18] } as const;
    const took = cpuTime(() => {
      for (let i = 0; i < 100; i++) expectDigits(fractionOutsideCircle(thin, 1), normalSf(1) + normalSf(3), 13);
      const across = { mean: [1.7, 2.4], covariance: [4e-19, 1e-19, 5e-19] } as const;
      fractionOutsideCircle(across, Math.hypot(1.7, 2.4));
    });
    // a tenth of a second here; seconds where rounding is refined
    expect(took).toBeLessThan(2000);
  });
});

describe("argument checks", () => {
  it("refuses what no distribution has", () => {
    expect(() => normalQuantile(1.5)).toThrow(CoreError);
    expect(() => normalQuantile(NaN)).toThrow(CoreError);
    expect(() => gammaCdf(1, -1)).toThrow(CoreError);
    expect(() => gammaQuantile(0, 2)).toThrow(CoreError);
    expect(() => betaCdf(0.5, 0, 1)).toThrow(CoreError);
    expect(() => riceDensity(1, { offset: -1, sigma: 1 })).toThrow(CoreError);
    expect(() => binomialCdf(1, { n: 2.5, p: 0.1 })).toThrow(CoreError);
    expect(() => pearsonQuantile(0.5, { skewness: 2, excessKurtosis: 1 })).toThrow(CoreError);
  });

  it("keeps an interval in the far tail", () => {
    // difference of the two reference tails of mpmath at 8 and 9: Q(8) - Q(9)
    expectDigits(normalInterval(8, 9), 6.220960574271785e-16 - 1.1285884059538324e-19, 12);
  });
});
