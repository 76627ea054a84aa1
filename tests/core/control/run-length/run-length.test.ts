import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { cusumRunLength, cusumRunLengthOneSided } from "@/lib/core/control/run-length/cusum-run-length";
import { cusumIntervalFor, designChart, ewmaWidthFor } from "@/lib/core/control/run-length/design-chart";
import { directionRunLength } from "@/lib/core/control/run-length/direction-run-length";
import { estimatedLimitsRunLength } from "@/lib/core/control/run-length/estimated-limits-run-length";
import { ewmaRunLength, type EwmaDesign } from "@/lib/core/control/run-length/ewma-run-length";
import { mewmaRunLength } from "@/lib/core/control/run-length/mewma-run-length";
import { rulesRunLength } from "@/lib/core/control/run-length/rules-run-length";
import { EIGHT_TESTS, LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "@/lib/core/control/rules/run-rules";
import { simulatedRunLength } from "@/lib/core/control/run-length/simulated-run-length";
import { expectDigits } from "@/tests/helpers/expect-digits";
import memoryCharts from "@/tests/reference/ewma-cusum-run-length.json";
import longOnes from "@/tests/reference/long-run-lengths.json";
import ruleCases from "@/tests/reference/run-rules.json";

const [limit, twoOfThree, fourOfFive, eightRun] = ZONE_TESTS as [RunRule, RunRule, RunRule, RunRule];
const nineRun = EIGHT_TESTS[1]!;
const setOf: Record<string, readonly RunRule[]> = {
  "champ-woodall-1": [limit],
  "champ-woodall-1+2of3": [limit, twoOfThree],
  "champ-woodall-1+4of5": [limit, fourOfFive],
  "champ-woodall-1+2of3+4of5": [limit, twoOfThree, fourOfFive],
  "champ-woodall-1+2of3+4of5+8run (Western Electric)": ZONE_TESTS,
  "runs-1+2of2": [limit, { id: "2of2", test: "k-of-m", k: 2, m: 2, sigmas: 2 }],
  "runs-1+5of5": [limit, { id: "5of5", test: "k-of-m", k: 5, m: 5, sigmas: 1 }],
  "runs-2of3 alone": [twoOfThree],
  "runs-4of5 alone": [fourOfFive],
  "runs-8run alone": [eightRun],
  "runs-9run alone": [nineRun],
  "runs-Nelson tests 1,2,5,6 (1 + 9run + 2of3 + 4of5)": [limit, nineRun, twoOfThree, fourOfFive],
  "runs-1+9run": [limit, nineRun],
};
const tables = ruleCases.cases.filter(({ input }) => "shift_in_sigma" in input) as unknown as {
  id: string;
  input: { shift_in_sigma: number[] };
  expected: { arl: number[] };
  computed?: { arl: number[] };
}[];
const byId = (id: string) => {
  const found = [...ruleCases.cases, ...memoryCharts.cases].find((each) => each.id === id);
  return found as unknown as { input: Record<string, unknown>; expected: Record<string, number>; computed: never };
};

describe("rulesRunLength", () => {
  it("knows every rule set of the reference tables", () => {
    expect(tables.map(({ id }) => id).sort()).toEqual(Object.keys(setOf).sort());
  });

  it.each(tables)("gives the run lengths of $id at all shifts", ({ id, input, expected, computed }) => {
    // Champ and Woodall 1987, Technometrics 29(4), table 1; other sets: independent Markov chain
    input.shift_in_sigma.forEach((shift, index) => {
      const { mean, method, standardError } = rulesRunLength(setOf[id]!, { shift });
      expect([method, standardError]).toEqual(["exact", 0]);
      if (computed !== undefined) {
        // two printed decimals
        expect(Math.abs(mean - expected.arl[index]!)).toBeLessThan(0.011);
      }
      // four decimals of the recomputation
      expect(Math.abs(mean - (computed ?? expected).arl[index]!)).toBeLessThan(0.000051);
    });
  });

  it("gives the closed forms of a limit, of runs on one side and of runs in and out of a zone", () => {
    // elementary: 1 / (2 (1 - Phi(3))), 2^k - 1, (1 - p^k) / ((1 - p) p^k)
    expectDigits(rulesRunLength(LIMIT_TEST_ONLY).mean, 370.3983473449564, 12);
    for (const length of [2, 7, 8, 9, 20]) {
      expectDigits(rulesRunLength([{ id: "run", test: "same-side", length }]).mean, 2 ** length - 1, 12);
    }
    const inside = 0.6826894921370859; // P(|z| < 1)
    for (const [rule, p, k] of [
      [EIGHT_TESTS[6]!, inside, 15],
      [EIGHT_TESTS[7]!, 1 - inside, 8],
    ] as const) {
      expectDigits(rulesRunLength([rule]).mean, (1 - p ** k) / ((1 - p) * p ** k), 11);
    }
    expectDigits(rulesRunLength([EIGHT_TESTS[6]!]).mean, 963.27, 5);
    expectDigits(rulesRunLength([EIGHT_TESTS[7]!]).mean, 14251.37, 6.5);
  });

  it("gives standard deviation and quantiles of a geometric run length", () => {
    const p = 1 / 370.3983473449564;
    const { standardDeviation, quantiles } = rulesRunLength(LIMIT_TEST_ONLY);
    expectDigits(standardDeviation!, Math.sqrt(1 - p) / p, 9);
    expect(quantiles).toEqual([0.05, 0.5, 0.95].map((q) => Math.ceil(Math.log1p(-q) / Math.log1p(-p))));
  });

  it("gives monotone and alternating tests for any distribution, at any shift", () => {
    // independent dynamic programme on relative ranks
    const { arl_test3_six_monotone, arl_test4_fourteen_alternating } = byId("nelson-3-4-alone").expected;
    expectDigits(rulesRunLength([EIGHT_TESTS[2]!], { shift: 1 }).mean, arl_test3_six_monotone!, 11);
    expectDigits(rulesRunLength([EIGHT_TESTS[3]!]).mean, arl_test4_fourteen_alternating!, 11);
    // elementary: two points that differ always rise or fall
    expectDigits(directionRunLength([{ id: "m", test: "monotone", length: 2 }]), 2, 12);
  });

  it("simulates all eight tests within three standard errors of an independent simulation", () => {
    const expected = byId("nelson-all-eight").expected;
    const published: [number, number, number][] = [
      [0, expected.arl0!, 0.11],
      [0.5, expected.arl_shift_0_5!, 0.05],
      [1, expected.arl_shift_1!, 0.015],
      [1.5, expected.arl_shift_1_5!, 0.008],
      [2, expected.arl_shift_2!, 0.005],
    ];
    for (const [shift, value, error] of published) {
      const { mean, standardError, method } = rulesRunLength(EIGHT_TESTS, { shift, seed: 41, runs: 20_000 });
      expect(method).toBe("simulation");
      expect(Math.abs(mean - value)).toBeLessThan(3 * Math.hypot(standardError, error));
    }
  });

  it("agrees with simulation at a shift and another spread", () => {
    const options = { shift: 0.7, ratio: 1.2, limit: 2.5 };
    const exact = rulesRunLength(ZONE_TESTS, options).mean;
    const { mean, standardError, quantiles } = simulatedRunLength(ZONE_TESTS, {
      ...options,
      runs: 20_000,
      seed: 41,
      probabilities: [0.5],
    });
    expect(Math.abs(mean - exact)).toBeLessThan(3 * standardError);
    expect(quantiles).toEqual(rulesRunLength(ZONE_TESTS, { ...options, probabilities: [0.5] }).quantiles);
  });

  it("is the same for both directions of a shift, and adding a rule never lengthens it", () => {
    const zoneRules = EIGHT_TESTS.filter(({ test }) => test !== "monotone" && test !== "alternating");
    fc.assert(
      fc.property(
        fc.subarray(zoneRules, { minLength: 1, maxLength: 4 }),
        fc.integer({ min: 0, max: 12 }),
        (rules, k) => {
          const shift = k / 4;
          const { mean } = rulesRunLength(rules, { shift });
          expectDigits(rulesRunLength(rules, { shift: -shift }).mean, mean, 10);
          expect(rulesRunLength([...rules, { id: "more", test: "beyond-limit" }], { shift }).mean).toBeLessThanOrEqual(
            mean * (1 + 1e-12),
          );
        },
      ),
      { seed: 41, numRuns: 30 },
    );
  });

  it("refuses an empty set and numbers outside their range", () => {
    expect(() => rulesRunLength([])).toThrow(expect.objectContaining({ code: "invalid-argument" }));
    for (const options of [{ shift: Number.NaN }, { ratio: 0 }, { limit: -1 }, { probabilities: [1] }]) {
      expect(() => rulesRunLength(ZONE_TESTS, options)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    }
    expect(() => simulatedRunLength(ZONE_TESTS, { runs: 1 })).toThrow(
      expect.objectContaining({ code: "out-of-range" }),
    );
  });
});

describe("ewmaRunLength", () => {
  const printed = memoryCharts.cases.filter(({ id }) => id.startsWith("ewma-lucas")) as unknown as {
    id: string;
    input: { lambda_: number; L: number; shift_in_sigma: number[] };
    expected: { arl: number[] };
    computed: { arl: number[] };
  }[];

  it.each(printed)("gives the printed run lengths of $id", ({ input, expected, computed }) => {
    // Lucas and Saccucci 1990, Technometrics 32(1) 1-12
    input.shift_in_sigma.forEach((shift, index) => {
      const length = ewmaRunLength({ lambda: input.lambda_, width: input.L }, shift);
      const value = expected.arl[index]!;
      // 15.9 is printed for 15.8475: rounded twice
      expect(Math.abs(length - value)).toBeLessThan(value > 100 ? 0.5 : value > 10 ? 0.053 : 0.0501);
      expect(Math.abs(length - computed.arl[index]!)).toBeLessThan(0.000051);
    });
  });

  it("is the individuals chart for weight 1, on both sides and on one", () => {
    // elementary: 1 / (2 (1 - Phi(3))) and twice that
    expectDigits(ewmaRunLength({ lambda: 1, width: 3 }), 370.3983473449564, 11);
    expectDigits(ewmaRunLength({ lambda: 1, width: 3, sides: "upper" }), 740.7966946899129, 9);
  });

  it("gives a shorter run length for limits that widen, the same as simulation", () => {
    const design = { lambda: 0.1, width: 2.814, limits: "exact" } as const;
    const length = ewmaRunLength(design, 1);
    expect(length).toBeLessThan(ewmaRunLength({ ...design, limits: "asymptotic" }, 1));
    // the recursion itself on seeded normal values
    let state = 12345;
    const uniform = () => (state = (state * 48271) % 2147483647) / 2147483647;
    const runs = 20_000;
    let total = 0;
    let squares = 0;
    for (let run = 0; run < runs; run++) {
      let z = 0;
      let points = 0;
      let variance = 0;
      do {
        const normal = Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
        z = 0.1 * (1 + normal) + 0.9 * z;
        variance = 0.81 * variance + 0.01;
        points++;
      } while (Math.abs(z) <= 2.814 * Math.sqrt(variance));
      total += points;
      squares += points * points;
    }
    const mean = total / runs;
    expect(Math.abs(length - mean)).toBeLessThan(3 * Math.sqrt((squares / runs - mean * mean) / runs));
  });

  it("refuses a weight, a width and a start outside their range", () => {
    for (const design of [
      { lambda: 0, width: 3 },
      { lambda: 0.2, width: 0 },
      { lambda: 0.2, width: 3, start: 5 },
    ]) {
      expect(() => ewmaRunLength(design)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    }
  });
});

describe("cusumRunLength", () => {
  it("gives the printed two-sided run lengths, with and without a head start", () => {
    // Montgomery, Introduction to Statistical Quality Control, table 9.3
    const { input, expected, computed } = byId("cusum-two-sided-k0.5-h4") as unknown as {
      input: { shift_in_sigma: number[] };
      expected: { arl: number[] };
      computed: { arl: number[]; arl_with_50pct_headstart: number[] };
    };
    input.shift_in_sigma.forEach((shift, index) => {
      const length = cusumRunLength({ k: 0.5, h: 4 }, shift);
      const value = expected.arl[index]!;
      expect(Math.abs(length - value)).toBeLessThan(value > 100 ? 0.5 : value > 10 ? 0.05 : 0.005);
      expect(Math.abs(length - computed.arl[index]!)).toBeLessThan(0.000051);
      const ahead = cusumRunLength({ k: 0.5, h: 4, headStart: 0.5 }, shift);
      expect(Math.abs(ahead - computed.arl_with_50pct_headstart[index]!)).toBeLessThan(0.000051);
    });
  });

  it("gives 240 one-sided run lengths of an independent solution", () => {
    const { computed, expected } = byId("cusum-one-sided") as unknown as {
      computed: { exact: Record<string, Record<string, number>>; exact_h4: number; exact_h5: number };
      expected: { published: Record<string, number> };
    };
    for (const [name, lengths] of Object.entries(computed.exact)) {
      const [k, h] = name.split(",").map((part) => Number(part.split("=")[1])) as [number, number];
      for (const [shift, value] of Object.entries(lengths)) {
        const length = cusumRunLengthOneSided({ k, h }, Number(shift));
        // four printed decimals; beyond 1e8 both solutions lose digits to the size of the run length
        expect(Math.abs(length - value)).toBeLessThan(Math.max(0.000051, value * Math.max(1e-11, value * 1e-14)));
      }
    }
    expectDigits(cusumRunLengthOneSided({ k: 0.5, h: 4 }), computed.exact_h4, 11);
    expectDigits(cusumRunLengthOneSided({ k: 0.5, h: 5 }), computed.exact_h5, 11);
    // printed 336 and 930 in NIST/SEMATECH e-Handbook 6.3.2.3.1, rounded from another program
    expect(Math.abs(computed.exact_h4 / expected.published["k=0.5,h=4"]! - 1)).toBeLessThan(0.002);
  });

  it("is near Siegmund's approximation", () => {
    // printed 938.2, 10.34 (approximation); its own error is below 1 %
    const { arl0_one_sided, arl_shift1_one_sided } = byId("cusum-siegmund").expected;
    expect(Math.abs(cusumRunLengthOneSided({ k: 0.5, h: 5 }) / arl0_one_sided! - 1)).toBeLessThan(0.01);
    expect(Math.abs(cusumRunLengthOneSided({ k: 0.5, h: 5 }, 1) / arl_shift1_one_sided! - 1)).toBeLessThan(0.01);
  });

  it("refuses k, h, head start and shift outside their range", () => {
    for (const design of [
      { k: -1, h: 4 },
      { k: 0.5, h: 0 },
      { k: 0.5, h: 4, headStart: 1 },
    ]) {
      expect(() => cusumRunLength(design)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    }
    expect(() => cusumRunLength({ k: 0.5, h: 4 }, Number.NaN)).toThrow(
      expect.objectContaining({ code: "out-of-range" }),
    );
  });
});

describe("designChart", () => {
  it("gives the decision intervals of the printed table and of the exact solution", () => {
    // Hawkins 1993, Quality Engineering 5(3)
    const { computed } = byId("cusum-hawkins-370") as unknown as {
      computed: Record<string, { published: number; h_two_sided_ARL0_370: number; h_one_sided_ARL0_370: number }>;
    };
    for (const [k, { published, h_two_sided_ARL0_370, h_one_sided_ARL0_370 }] of Object.entries(computed)) {
      const h = cusumIntervalFor(Number(k), 370);
      expect(Math.abs(h - published)).toBeLessThan(0.0061);
      expect(Math.abs(h - h_two_sided_ARL0_370)).toBeLessThan(0.0000051);
      expect(Math.abs(cusumIntervalFor(Number(k), 370, "one") - h_one_sided_ARL0_370)).toBeLessThan(0.0000051);
    }
  });

  it("gives the widths of the printed EWMA designs", () => {
    // Lucas and Saccucci 1990: in-control run length 500
    for (const [lambda, width] of [
      [0.4, 3.054],
      [0.2, 2.962],
      [0.1, 2.814],
    ] as const) {
      expect(Math.abs(ewmaWidthFor(lambda, 500) - width)).toBeLessThan(0.00051);
    }
  });

  it("proposes charts that have the run length asked for, and the memory charts find one sigma sooner", () => {
    const { limits, ewma, cusum } = designChart(370, 1);
    expectDigits(ewmaRunLength(ewma.design), 370, 6);
    expectDigits(cusumRunLength(cusum.design), 370, 6);
    expectDigits(rulesRunLength(LIMIT_TEST_ONLY, { limit: limits.design.sigmas }).mean, 370, 6);
    expect(cusum.atShift).toBeLessThan(limits.atShift / 3);
    expect(ewma.atShift).toBeLessThan(limits.atShift / 3);
    for (const change of [0.8, 1.25]) {
      const lambda = ewma.design.lambda * change;
      expect(ewmaRunLength({ lambda, width: ewmaWidthFor(lambda, 370) }, 1)).toBeGreaterThan(ewma.atShift);
    }
  });

  it("refuses run lengths and shifts outside their range", () => {
    expect(() => designChart(5, 1)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => designChart(370, 0)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => cusumIntervalFor(9, 370)).toThrow(expect.objectContaining({ code: "out-of-range" }));
    expect(() => ewmaWidthFor(2, 370)).toThrow(expect.objectContaining({ code: "out-of-range" }));
  });
});

describe("estimatedLimitsRunLength", () => {
  const individuals = { chart: "rules", rules: LIMIT_TEST_ONLY } as const;

  it.each([
    [100, 95, 1760],
    [300, 163, 898],
  ])("gives the range of the run length of individuals from %i points", (points, lower, upper) => {
    // seeded simulation published with the design of this project (5 to 95 %), itself good to some 4 %
    const interval = estimatedLimitsRunLength(individuals, { points });
    expectDigits(interval.nominal, 370.3983473449564, 11);
    expect(Math.abs(interval.lower / lower - 1)).toBeLessThan(0.04);
    expect(Math.abs(interval.upper / upper - 1)).toBeLessThan(0.04);
    expect(interval.median).toBeLessThan(interval.nominal);
  });

  it("narrows towards the nominal run length with the baseline, for every chart", () => {
    const charts = [
      { chart: "rules", rules: ZONE_TESTS },
      { chart: "ewma", design: { lambda: 0.2, width: 2.86 } },
      { chart: "cusum", design: { k: 0.5, h: 4.77 } },
    ] as const;
    for (const chart of charts) {
      const small = estimatedLimitsRunLength(chart, { points: 100 });
      const large = estimatedLimitsRunLength(chart, { points: 20_000 });
      expect(small.lower).toBeLessThan(large.lower);
      expect(small.upper).toBeGreaterThan(large.upper);
      expect(large.upper / large.lower).toBeLessThan(1.25);
      expect(large.lower).toBeLessThan(large.nominal);
      expect(large.upper).toBeGreaterThan(large.nominal);
    }
  });

  it("is narrower where sigma comes from all points or from subgroups", () => {
    const byRanges = estimatedLimitsRunLength(individuals, { points: 100 });
    const byDeviation = estimatedLimitsRunLength(individuals, { points: 100, sigmaFrom: "standard-deviation" });
    const bySubgroups = estimatedLimitsRunLength(individuals, { points: 100, sigmaFrom: "subgroups", subgroupSize: 5 });
    expect(byDeviation.upper).toBeLessThan(byRanges.upper);
    expect(bySubgroups.upper).toBeLessThan(byDeviation.upper);
  });

  it("refuses a baseline of fewer than five points and rules of direction", () => {
    expect(() => estimatedLimitsRunLength(individuals, { points: 4 })).toThrow(
      expect.objectContaining({ code: "out-of-range" }),
    );
    expect(() => estimatedLimitsRunLength({ chart: "rules", rules: EIGHT_TESTS }, { points: 100 })).toThrow(
      expect.objectContaining({ code: "invalid-argument" }),
    );
  });
});

describe("run lengths that plain elimination loses", () => {
  it.each(longOnes.cases)("$chart of mean $mean", ({ chart, k, h, lam, width, limit: largest, sides, shift, mean }) => {
    // tests/reference/long-run-lengths.json: mpmath with 50 digits, numpy on a finer rule
    if (chart === "cusum") expectDigits(cusumRunLengthOneSided({ k: k!, h: h! }, shift), mean, 12);
    else if (chart === "ewma") {
      const design = { lambda: lam!, width: width!, sides: sides as EwmaDesign["sides"] & string };
      expectDigits(ewmaRunLength(design, shift), mean, 12);
    } else expectDigits(mewmaRunLength({ dimensions: 2, lambda: lam!, limit: largest! }, shift), mean, 8);
  });

  it("never gives a negative or an endless one", () => {
    expect(cusumRunLengthOneSided({ k: 0.5, h: 5 }, -6)).toBeGreaterThan(1e29);
    expect(ewmaRunLength({ lambda: 0.3, width: 3, sides: "upper" }, -5)).toBeGreaterThan(1e40);
    expect(() => ewmaRunLength({ lambda: 0.2, width: 60 })).toThrow("never ends");
    expect(() => cusumRunLength({ k: 60, h: 5 })).toThrow("never ends");
    expect(() => mewmaRunLength({ dimensions: 2, lambda: 0.1, limit: 100 }, 0.1)).toThrow("never signals");
    expect(() => ewmaRunLength({ lambda: 1e-6, width: 3, limits: "exact" })).toThrow("lambda");
    expect(() => ewmaRunLength({ lambda: 0.01, width: 30 })).toThrow("larger lambda");
    expect(() => cusumRunLength({ k: 0.5, h: 1000 })).toThrow("at most 100");
    const ewma = { chart: "ewma", design: { lambda: 0.01, width: 3 } } as const;
    expect(() => estimatedLimitsRunLength(ewma, { points: 100 })).toThrow("lambda");
  });
});

describe("cusumRunLength at huge shifts", () => {
  it("signals at once, and an idle side leaves the other alone", () => {
    for (const shift of [20, 38, 100, 1e6, 1e300])
      for (const headStart of [0, 0.5])
        for (const sign of [1, -1]) expect(cusumRunLength({ k: 0.5, h: 5, headStart }, sign * shift)).toBe(1);
    // elementary: the sum grows by shift - k = 3.5 a point without chance worth naming, and passes 100 at the 29th point
    expectDigits(cusumRunLength({ k: 36.5, h: 100 }, 40), 29, 2);
    expectDigits(cusumRunLength({ k: 0.5, h: 5 }, 39), cusumRunLengthOneSided({ k: 0.5, h: 5 }, 39), 14);
  });

  it("says so where neither side ever signals", () => {
    expect(() => cusumRunLength({ k: 60, h: 5 })).toThrow(expect.objectContaining({ code: "not-converged" }));
  });
});
