import { describe, it } from "vitest";
import { betaCdf, betaQuantile, betaSf, betaUpperQuantile } from "@/lib/core/distributions/beta";
import { binomialCdf, binomialSf } from "@/lib/core/distributions/binomial";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import {
  chiSquareCdf,
  chiSquareQuantile,
  chiSquareSf,
  chiSquareUpperQuantile,
} from "@/lib/core/distributions/chi-square";
import { fisherFCdf, fisherFQuantile, fisherFSf, fisherFUpperQuantile } from "@/lib/core/distributions/fisher-f";
import {
  foldedNormalCdf,
  foldedNormalQuantile,
  foldedNormalSf,
  foldedNormalUpperQuantile,
} from "@/lib/core/distributions/folded-normal";
import { gammaCdf, gammaQuantile, gammaSf, gammaUpperQuantile } from "@/lib/core/distributions/gamma";
import { hypergeometricCdf, hypergeometricSf } from "@/lib/core/distributions/hypergeometric";
import {
  lognormalCdf,
  lognormalQuantile,
  lognormalSf,
  lognormalUpperQuantile,
} from "@/lib/core/distributions/lognormal";
import { noncentralTCdf, noncentralTQuantile, noncentralTSf } from "@/lib/core/distributions/noncentral-t";
import { normalCdf, normalQuantile, normalSf, normalUpperQuantile } from "@/lib/core/distributions/normal";
import { normalRangeCdf, normalRangeQuantile, normalRangeSf } from "@/lib/core/distributions/normal-range";
import { poissonCdf, poissonSf } from "@/lib/core/distributions/poisson";
import { rayleighCdf, rayleighQuantile, rayleighSf, rayleighUpperQuantile } from "@/lib/core/distributions/rayleigh";
import { riceCdf, riceQuantile, riceSf, riceUpperQuantile } from "@/lib/core/distributions/rice";
import { studentTCdf, studentTQuantile, studentTSf } from "@/lib/core/distributions/student-t";
import { weibullCdf, weibullQuantile, weibullSf, weibullUpperQuantile } from "@/lib/core/distributions/weibull";
import { expectDigits } from "../../helpers/expect-digits";
import reference from "../../reference/distributions.json";

/** Relative 1e-10 against reference library values, as the numbers ask (mpmath 1.3.0, see distributions.source.md). */
const DIGITS = 10;

interface Functions {
  readonly cdf?: () => number;
  readonly sf: () => number;
  readonly quantile?: (p: number) => number;
  readonly upperQuantile?: (q: number) => number;
}

const functions: Record<keyof typeof reference.cases, (x: number, a: number, b: number, c: number) => Functions> = {
  normal: (x) => ({
    cdf: () => normalCdf(x),
    sf: () => normalSf(x),
    quantile: normalQuantile,
    upperQuantile: normalUpperQuantile,
  }),
  gamma: (x, a) => ({
    cdf: () => gammaCdf(x, a),
    sf: () => gammaSf(x, a),
    quantile: (p) => gammaQuantile(p, a),
    upperQuantile: (q) => gammaUpperQuantile(q, a),
  }),
  beta: (x, a, b) => ({
    cdf: () => betaCdf(x, a, b),
    sf: () => betaSf(x, a, b),
    quantile: (p) => betaQuantile(p, a, b),
    upperQuantile: (q) => betaUpperQuantile(q, a, b),
  }),
  t: (x, df) => ({
    cdf: () => studentTCdf(x, df),
    sf: () => studentTSf(x, df),
    quantile: (p) => studentTQuantile(p, df),
    upperQuantile: (q) => -studentTQuantile(q, df),
  }),
  f: (x, d1, d2) => ({
    cdf: () => fisherFCdf(x, [d1, d2]),
    sf: () => fisherFSf(x, [d1, d2]),
    quantile: (p) => fisherFQuantile(p, [d1, d2]),
    upperQuantile: (q) => fisherFUpperQuantile(q, [d1, d2]),
  }),
  weibull: (x, shape, scale) => ({
    cdf: () => weibullCdf(x, { shape, scale }),
    sf: () => weibullSf(x, { shape, scale }),
    quantile: (p) => weibullQuantile(p, { shape, scale }),
    upperQuantile: (q) => weibullUpperQuantile(q, { shape, scale }),
  }),
  lognormal: (x, logMean, logSd) => ({
    cdf: () => lognormalCdf(x, { logMean, logSd }),
    sf: () => lognormalSf(x, { logMean, logSd }),
    quantile: (p) => lognormalQuantile(p, { logMean, logSd }),
    upperQuantile: (q) => lognormalUpperQuantile(q, { logMean, logSd }),
  }),
  rayleigh: (x, sigma) => ({
    cdf: () => rayleighCdf(x, sigma),
    sf: () => rayleighSf(x, sigma),
    quantile: (p) => rayleighQuantile(p, sigma),
    upperQuantile: (q) => rayleighUpperQuantile(q, sigma),
  }),
  poisson: (k, mean) => ({ cdf: () => poissonCdf(k, mean), sf: () => poissonSf(k, mean) }),
  binomial: (k, n, p) => ({ cdf: () => binomialCdf(k, { n, p }), sf: () => binomialSf(k, { n, p }) }),
  hypergeometric: (k, lotSize, marked, drawn) => ({
    cdf: () => hypergeometricCdf(k, { lotSize, marked, drawn }),
    sf: () => hypergeometricSf(k, { lotSize, marked, drawn }),
  }),
  rice: (x, offset, sigma) => ({
    cdf: () => riceCdf(x, { offset, sigma }),
    sf: () => riceSf(x, { offset, sigma }),
    quantile: (p) => riceQuantile(p, { offset, sigma }),
    upperQuantile: (q) => riceUpperQuantile(q, { offset, sigma }),
  }),
  foldedNormal: (x, mu, sigma) => ({
    cdf: () => foldedNormalCdf(x, { mu, sigma }),
    sf: () => foldedNormalSf(x, { mu, sigma }),
    quantile: (p) => foldedNormalQuantile(p, { mu, sigma }),
    upperQuantile: (q) => foldedNormalUpperQuantile(q, { mu, sigma }),
  }),
  noncentralT: (t, df, delta) => ({
    cdf: () => noncentralTCdf(t, { df, delta }),
    sf: () => noncentralTSf(t, { df, delta }),
    quantile: (p) => noncentralTQuantile(p, { df, delta }),
  }),
  range: (r, n) => ({
    cdf: () => normalRangeCdf(r, n),
    sf: () => normalRangeSf(r, n),
    quantile: (p) => normalRangeQuantile(p, n),
  }),
  outsideCircle: () => {
    throw new Error("tested below: six arguments");
  },
};

for (const [name, make] of Object.entries(functions)) {
  if (name === "outsideCircle") continue;
  const cases = reference.cases[name as keyof typeof reference.cases];
  describe(name, () => {
    it.each(cases)("both tails and their inverses at $args", ({ args, cdf, sf }) => {
      const [x = NaN, a = NaN, b = NaN, c = NaN] = args;
      const f = make(x, a, b, c);
      if (f.cdf) expectDigits(f.cdf(), cdf, DIGITS);
      expectDigits(f.sf(), sf, DIGITS);
      // An inverse from a probability near 1 has lost the argument's digits already: the other tail checks it.
      if (f.quantile && cdf > 0 && cdf < 0.99) expectDigits(f.quantile(cdf), x, DIGITS);
      if (f.upperQuantile && sf > 0 && sf < 0.99) expectDigits(f.upperQuantile(sf), x, DIGITS);
    });
  });
}

describe("fractionOutsideCircle", () => {
  it.each(reference.cases.outsideCircle)("general covariance and offset mean $args", ({ args, sf }) => {
    const [radius = NaN, m1 = NaN, m2 = NaN, s11 = NaN, s12 = NaN, s22 = NaN] = args;
    expectDigits(fractionOutsideCircle({ mean: [m1, m2], covariance: [s11, s12, s22] }, radius), sf, DIGITS);
  });
});

describe("chi-square", () => {
  it.each(reference.cases.gamma)("is the gamma distribution of twice the value at $args", ({ args, cdf, sf }) => {
    const [x = NaN, shape = NaN] = args;
    expectDigits(chiSquareCdf(2 * x, 2 * shape), cdf, DIGITS);
    expectDigits(chiSquareSf(2 * x, 2 * shape), sf, DIGITS);
  });

  it("gives the quantiles of the 20-part capability example", () => {
    // scipy values beside Montgomery, Introduction to Statistical Quality Control, example 8.4 (tests/reference/capability.json)
    expectDigits(chiSquareQuantile(0.025, 19), 8.906516481987971, 13);
    expectDigits(chiSquareUpperQuantile(0.025, 19), 32.85232686172969, 13);
  });
});
