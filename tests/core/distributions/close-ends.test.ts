import { describe, expect, it } from "vitest";
import { andersonDarlingNormal } from "@/lib/core/distributions/anderson-darling";
import { gammaCdf, gammaSf } from "@/lib/core/distributions/gamma";
import { normalInterval } from "@/lib/core/distributions/normal";
import { autocorrelation, sampleShape } from "@/lib/core/numerics/descriptive-statistics";
import { logGamma } from "@/lib/core/numerics/log-gamma";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";

describe("where a difference of two nearly equal numbers would lose the digits", () => {
  it("gives the probability between close ends", () => {
    // mpmath 1.3.0 at 80 digits, difference of two complementary error functions
    expectDigits(normalInterval(1e-9, 2e-9), 3.989422804014327e-10, 12);
    expectDigits(normalInterval(0.3, 0.3000001), 3.8138780975067334e-8, 8);
    expectDigits(normalInterval(5, 5.0001), 1.486347894314118e-10, 12);
    // it joins the difference of tails without a step: twice a half is the whole
    for (const a of [-3, 0, 0.2, 4, 20]) {
      const width = 0.06 / Math.max(1, Math.abs(a));
      const halves = normalInterval(a, a + width / 2) + normalInterval(a + width / 2, a + width);
      expectDigits(normalInterval(a, a + width), halves, 12);
    }
  });

  it("gives what a gamma distribution of tiny shape leaves above", () => {
    // mpmath 1.3.0 at 40 digits
    expectDigits(gammaSf(1e-5, 1e-8), 1.0935719210318449e-7, 11);
    for (const [x, shape] of [
      [0.5, 0.3],
      [0.9, 0.9],
      [1.05, 0.06],
      [1e-3, 1e-3],
    ] as const)
      expect(Math.abs(gammaCdf(x, shape) + gammaSf(x, shape) - 1)).toBeLessThan(1e-14);
  });

  it("gives the logarithm of the gamma function near its roots", () => {
    // mpmath 1.3.0 at 40 digits
    expectDigits(logGamma(0.999999), 5.7721648738556524e-7, 9);
    expectDigits(logGamma(2.0000001), 4.2278436665324979e-8, 13);
    // elementary: Gamma(x + 1) = x Gamma(x), across the seams of the series
    for (const x of [0.79, 0.81, 1.1, 1.19, 1.21]) expectDigits(logGamma(x + 1) - logGamma(x), Math.log(x), 12);
    expect([logGamma(1), logGamma(2)]).toEqual([0, 0]);
  });

  it("does not mind an offset of 1e9", () => {
    const random = createSeededGenerator(2);
    const x = Array.from({ length: 60 }, () => Math.round(4096 * random.normal()) / 4096);
    const far = x.map((value) => value + 1e9);
    expectDigits(autocorrelation(far), autocorrelation(x), 11);
    expectDigits(sampleShape(far).g1, sampleShape(x).g1, 11);
    expectDigits(andersonDarlingNormal(far).statistic, andersonDarlingNormal(x).statistic, 11);
  });
});
