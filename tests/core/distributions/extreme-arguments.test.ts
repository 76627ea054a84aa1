import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { betaCdf, betaQuantile, betaSf, betaUpperQuantile } from "@/lib/core/distributions/beta";
import { binomialCdf, binomialPmf, binomialSf, fractionInterval } from "@/lib/core/distributions/binomial";
import { fisherFCdf, fisherFQuantile, fisherFUpperQuantile } from "@/lib/core/distributions/fisher-f";
import { hypergeometricCdf, hypergeometricPmf, hypergeometricSf } from "@/lib/core/distributions/hypergeometric";
import { noncentralTCdf, noncentralTQuantile, noncentralTSf } from "@/lib/core/distributions/noncentral-t";
import { pearsonQuantile } from "@/lib/core/distributions/pearson-quantile";
import { studentTCdf, studentTQuantile, studentTSf } from "@/lib/core/distributions/student-t";
import { CoreError } from "@/lib/core/errors";
import { expectDigits } from "../../helpers/expect-digits";
import reference from "../../reference/extreme-arguments.json";

const { cases } = reference;
const PROPERTIES = { seed: 15, numRuns: 200 };

describe("extreme arguments", () => {
  it("counts a lot of 10,000 as well as one of 50", () => {
    for (const { args, pmf, cdf, sf } of cases.hypergeometric) {
      const [k, lotSize, marked, drawn] = args as [number, number, number, number];
      const parameters = { lotSize, marked, drawn };
      expectDigits(hypergeometricPmf(k, parameters), pmf, 12);
      expectDigits(hypergeometricCdf(k, parameters), cdf, 12);
      expectDigits(hypergeometricSf(k, parameters), sf, 12);
    }
    // elementary: no more than all that are marked, and never fewer than must be
    const lot = { lotSize: 10, marked: 4, drawn: 8 };
    expect([hypergeometricCdf(1, lot), hypergeometricSf(1, lot), hypergeometricCdf(4, lot)]).toEqual([0, 1, 1]);
    expect(hypergeometricPmf(0, { lotSize: 0, marked: 0, drawn: 0 })).toBe(1);
    // elementary: one drawn of a million, of which one is marked
    expectDigits(hypergeometricSf(0, { lotSize: 1e6, marked: 1, drawn: 1 }), 1e-6, 12);
  });

  it("keeps the digits of the beta distribution at huge and at tiny shapes", () => {
    for (const { args, cdf, sf } of cases.beta) {
      const [x, a, b] = args as [number, number, number];
      // the digits of the quadrature that the reference is made by in the far tails of huge shapes
      const digits = a + b > 1e5 ? 10 : 11;
      expectDigits(betaCdf(x, a, b), cdf, digits);
      expectDigits(betaSf(x, a, b), sf, digits);
      if (cdf > 1e-290 && cdf < 0.9) expectDigits(betaQuantile(cdf, a, b), x, 9);
      if (sf > 1e-290 && sf < 0.9) expectDigits(1 - betaUpperQuantile(sf, a, b), 1 - x, 6);
    }
    expect([betaQuantile(0, 2, 3), betaQuantile(1, 2, 3), betaUpperQuantile(0, 2, 3)]).toEqual([0, 1, 1]);
    expect(() => betaCdf(0.5, Infinity, 1)).toThrow(CoreError);
  });

  it("keeps those of Student's t near the median and far out", () => {
    for (const { args, cdf, sf } of cases.t) {
      const [x, df] = args as [number, number];
      expectDigits(studentTCdf(x, df), cdf, 12);
      expectDigits(studentTSf(x, df), sf, 12);
      expectDigits(studentTCdf(-x, df), sf, 12);
    }
    for (const { args, x } of cases.tQuantile) {
      const [p, df] = args as [number, number];
      expectDigits(studentTQuantile(p, df), x, 11);
      expectDigits(-studentTQuantile(1 - p, df), x, p < 0.01 ? 3 : 11);
    }
    expect([studentTQuantile(0.5, 3), studentTCdf(0, 0.3), studentTSf(Infinity, 2)]).toEqual([0, 0.5, 0]);
    // elementary: the Cauchy distribution, 1 / (pi x) far out; a power of x with half a degree of freedom
    expectDigits(studentTSf(1e200, 1), 1e-200 / Math.PI, 12);
    expectDigits(studentTSf(1e240, 0.5) / studentTSf(1e200, 0.5), 1e-20, 9);
    // the normal distribution: 0.975 quantile, tables
    expectDigits(studentTQuantile(0.975, Infinity), 1.959963984540054, 13);
    expectDigits(studentTQuantile(0.975, 1e14), 1.959963984540054, 11);
  });

  it("keeps those of the noncentral t with few degrees of freedom", () => {
    for (const { args, cdf, sf } of cases.noncentralT) {
      const [t, df, delta] = args as [number, number, number];
      expectDigits(noncentralTCdf(t, { df, delta }), cdf, 11);
      expectDigits(noncentralTSf(t, { df, delta }), sf, 11);
    }
    for (const df of [0.05, 0.3, 1, 4, 1000])
      for (const t of [-1e6, -3, 0.01, 2, 1e4, 1e200])
        // without noncentrality it is Student's t
        expectDigits(noncentralTSf(t, { df, delta: 0 }), studentTSf(t, df), 11);
    expectDigits(noncentralTQuantile(noncentralTCdf(7, { df: 1, delta: 3 }), { df: 1, delta: 3 }), 7, 10);
  });

  it("goes over into the normal curve without a seam", () => {
    for (const { args, cdf, sf } of cases.pearson) {
      const [x, skewness, excessKurtosis] = args as [number, number, number];
      if (cdf <= 0.5) expectDigits(pearsonQuantile(cdf, { skewness, excessKurtosis }), x, 10);
      // from above, the mirrored curve
      if (sf <= 0.5) expectDigits(-pearsonQuantile(sf, { skewness: -skewness, excessKurtosis }), x, 10);
    }
    // normal: P(Z <= -9.262340089798408) = 1e-20, tables; and no fault of the mirror
    expectDigits(pearsonQuantile(1e-20, { skewness: -1e-12, excessKurtosis: 0 }), -9.262340089798408, 10);
  });

  it("counts a million trials to the last digits", () => {
    // elementary: the mode of a fair coin, C(n, n/2) 2^-n = sqrt(2 / (pi n)) (1 - 1/(4n) + 1/(32 n^2) + ...)
    const n = 2e6;
    const mode = Math.sqrt(2 / (Math.PI * n)) * (1 - 1 / (4 * n) + 1 / (32 * n * n));
    expectDigits(binomialPmf(n / 2, { n, p: 0.5 }), mode, 12);
    expectDigits(binomialCdf(n / 2, { n, p: 0.5 }), 0.5 + mode / 2, 12);
    expectDigits(binomialSf(0, { n, p: 1e-12 }), -Math.expm1(n * Math.log1p(-1e-12)), 12);
    expect([binomialPmf(0, { n: 0, p: 0.3 }), binomialPmf(3, { n: 3, p: 1 }), binomialPmf(2, { n: 3, p: 1 })]).toEqual([
      1, 1, 0,
    ]);
    // elementary: none in n has the lower bound 0, the upper 1 - (alpha / 2)^(1 / n)
    expectDigits(fractionInterval(0, 1e7, 0.95).upper, -Math.expm1(Math.log(0.025) / 1e7), 11);
    expectDigits(fractionInterval(1e7, 1e7, 0.95).lower, Math.exp(Math.log(0.025) / 1e7), 12);
  });

  it("does not mind where a value comes from: tails add up, quantiles come back, order is kept", () => {
    const shape = fc.double({ min: -3, max: 6, noNaN: true }).map((power) => 10 ** power);
    fc.assert(
      fc.property(shape, shape, fc.double({ min: 1e-6, max: 1 - 1e-6, noNaN: true }), (a, b, p) => {
        const x = betaQuantile(p, a, b);
        expect(Math.abs(betaCdf(x, a, b) + betaSf(x, a, b) - 1)).toBeLessThan(1e-14);
        if (x > 1e-300 && x < 1 - 1e-4) expect(Math.abs(betaCdf(x, a, b) / p - 1)).toBeLessThan(1e-7);
        if (x > 1e-300) expect(betaQuantile(p * 0.999, a, b)).toBeLessThanOrEqual(x * (1 + 1e-13));
        const f = fisherFQuantile(p, [a, b]);
        if (f > 1e-290 && f < 1e290) {
          expect(Math.abs(fisherFCdf(f, [a, b]) / p - 1)).toBeLessThan(1e-9);
          expect(Math.abs(fisherFUpperQuantile(p, [b, a]) * f - 1)).toBeLessThan(1e-9);
        }
        const t = studentTQuantile(p, a);
        if (Math.abs(t) < 1e140) expect(Math.abs(studentTCdf(t, a) / p - 1)).toBeLessThan(1e-10);
      }),
      PROPERTIES,
    );
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 3000 }), fc.nat(1), fc.nat(1), fc.nat(1), (lotSize, m, d, j) => {
        const marked = Math.round((lotSize * (1 + m * 7)) / 9);
        const drawn = Math.round((lotSize * (1 + d * 5)) / 8);
        const k = Math.round((marked * drawn) / lotSize) + j;
        const parameters = { lotSize, marked, drawn };
        expect(Math.abs(hypergeometricCdf(k, parameters) + hypergeometricSf(k, parameters) - 1)).toBeLessThan(1e-14);
        const step = hypergeometricCdf(k, parameters) - hypergeometricCdf(k - 1, parameters);
        expect(Math.abs(step - hypergeometricPmf(k, parameters))).toBeLessThan(1e-12);
      }),
      PROPERTIES,
    );
  });
});
