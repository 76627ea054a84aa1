import { describe, expect, it } from "vitest";
import reference from "../../reference/sampling-oc.json";
import {
  acceptanceProbability,
  outgoingQuality,
  outgoingQualityLimit,
  qualityAt,
  seriesProbability,
} from "@/lib/core/sampling/operating-characteristic";
import { expectDigits } from "../../helpers/expect-digits";

type Quantiles = { n: number; Ac: number; binomial: Record<string, number>; poisson: Record<string, number> };
const [quantiles, hypergeometric, factors] = reference.cases as unknown as [
  { computed: Quantiles[]; expected: { printed_K_1_0: Record<string, number> } },
  { input: { N: number; D: number; n: number; c: number }; expected: Record<string, number> },
  { input: { c: number[] }; computed: number[] },
];

describe("acceptanceProbability", () => {
  it("is hypergeometric for a lot, binomial for a series of lots, Poisson for nonconformities", () => {
    const { N: lot, D, n, c: ac } = hypergeometric.input;
    const plan = { by: "count", lot, n, ac } as const;
    expectDigits(acceptanceProbability(plan, D / lot), hypergeometric.expected.pa_hyper!, 11);
    expectDigits(seriesProbability(plan, D / lot)!, hypergeometric.expected.pa_binom!, 11);
    const counted = { ...plan, by: "nonconformities" } as const;
    expectDigits(acceptanceProbability(counted, D / lot), hypergeometric.expected.pa_poisson!, 11);
    expect(seriesProbability(counted, 0.1)).toBeNull();
  });

  it("has the qualities of the standard's tables", () => {
    for (const { n, Ac, binomial, poisson } of quantiles.computed)
      for (const probability of Object.keys(binomial)) {
        const plan = { lot: 1e9, n, ac: Ac };
        // A lot of 1e9 differs from an endless one in the eighth digit.
        expectDigits(100 * qualityAt({ ...plan, by: "count" }, Number(probability)), binomial[probability]!, 6);
        expectDigits(
          100 * qualityAt({ ...plan, by: "nonconformities" }, Number(probability)),
          poisson[probability]!,
          9,
        );
      }
    const printed = { by: "nonconformities", lot: 1e6, n: 125, ac: 3 } as const;
    for (const [percent, quality] of Object.entries(quantiles.expected.printed_K_1_0))
      expect(Math.abs(100 * qualityAt(printed, Number(percent) / 100) - quality)).toBeLessThan(0.006);
  });

  it("lies on the line between whole numbers of items, and knows a whole number in the digits of a double", () => {
    const plan = { by: "count", lot: 50, n: 13, ac: 0 } as const;
    const at = (items: number) => acceptanceProbability(plan, items / 50);
    // 37!/(33! ...) counted by hand: 45 * 44 ... 33 over 50 * 49 ... 38.
    let five = 1;
    for (let drawn = 0; drawn < 13; drawn += 1) five *= (45 - drawn) / (50 - drawn);
    expectDigits(at(5), five, 12);
    expectDigits(at(2.5), (at(2) + at(3)) / 2, 12);
    expectDigits(
      acceptanceProbability({ ...plan, lot: 100 }, 0.07),
      acceptanceProbability({ ...plan, lot: 100 }, 7 / 100),
      14,
    );
    expect([at(0), at(50)]).toEqual([1, 0]);
  });

  it("starts at 1, ends at 0 and never rises", () => {
    for (const plan of [
      { by: "count", lot: 4, n: 4, ac: 1 },
      { by: "s", lot: 100, n: 10, k: 1.41 },
      { by: "sigma", lot: 500, n: 12, k: 1.613 },
    ] as const) {
      const course = Array.from({ length: 101 }, (_, at) => acceptanceProbability(plan, at / 100));
      expect([course[0], course[100]]).toEqual([1, 0]);
      expect(course.every((pa, at) => at === 0 || pa <= course[at - 1]! + 1e-12)).toBe(true);
    }
  });

  it("refuses what is no fraction", () => {
    const plan = { by: "count", lot: 50, n: 13, ac: 0 } as const;
    for (const p of [-0.1, 1.1, Number.NaN, Infinity])
      expect(() => acceptanceProbability(plan, p)).toThrow("p must be from 0 to 1");
    expect(() => qualityAt(plan, 1)).toThrow("probability must be");
  });
});

describe("outgoing quality", () => {
  it("has the limit of Dodge and Romig's factors", () => {
    factors.input.c.forEach((ac, at) => {
      const { aoq } = outgoingQualityLimit({ by: "nonconformities", lot: 1e9, n: 100, ac });
      expectDigits(100 * aoq, factors.computed[at]!, 4);
    });
  });

  it("is nothing where the whole lot is inspected", () => {
    expect(outgoingQualityLimit({ by: "count", lot: 4, n: 4, ac: 1 }).aoq).toBe(0);
    expect(outgoingQuality({ by: "count", lot: 4, n: 4, ac: 1 }, 0.5)).toBe(0);
  });
});
