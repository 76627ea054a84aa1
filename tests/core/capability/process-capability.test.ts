import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { chooseDistribution, SIZE_FAMILIES, ZERO_BOUND_FAMILIES } from "@/lib/core/capability/choose-distribution";
import { framesToProve } from "@/lib/core/capability/frames-to-prove";
import { cpkLowerBound, oneSidedIndexInterval } from "@/lib/core/capability/index-intervals";
import { normalPpmInterval, recentNonconformingBound } from "@/lib/core/capability/nonconforming-fraction";
import { fitBivariateNormal, offsetCapability } from "@/lib/core/capability/offset-capability";
import { type CapabilityInput, processCapability } from "@/lib/core/capability/process-capability";
import { movingRangeSigma, pooledSigma } from "@/lib/core/capability/within-sigma";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import { noncentralTCdf } from "@/lib/core/distributions/noncentral-t";
import { CoreError } from "@/lib/core/errors";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";
import { expectDigits } from "../../helpers/expect-digits";

const stable = { verdict: "stable" } as const;

function normals(n: number, seed: number, mean = 41, sd = 0.004): readonly number[] {
  const generator = createSeededGenerator(seed);
  return Object.freeze(Array.from({ length: n }, () => mean + sd * generator.normal()));
}

function lengths(n: number, seed: number): readonly number[] {
  const generator = createSeededGenerator(seed);
  return Object.freeze(
    Array.from({ length: n }, () => Math.hypot(20 + 8 * generator.normal(), 8 * generator.normal())),
  );
}

const size = (values: readonly number[], rest: Partial<CapabilityInput> = {}): CapabilityInput => ({
  values,
  limits: { lower: 40.98, upper: 41.02 },
  stability: stable,
  kind: "size",
  ...rest,
});

describe("processCapability refuses with a reason, never a number", () => {
  it.each([
    [
      "an unstable stream",
      size(normals(200, 1), { stability: { verdict: "unstable", because: "3 signals" } }),
      "unstable",
    ],
    [
      "stability that nobody judged",
      size(normals(200, 1), { stability: { verdict: "not-judged" } }),
      "stability-not-judged",
    ],
    ["24 frames", size(normals(24, 1)), "too-few-frames"],
    ["no frame", size([]), "too-few-frames"],
    ["no limits", size(normals(50, 1), { limits: { lower: null, upper: null } }), "no-limits"],
    ["equal values", size(Array<number>(120).fill(41)), "no-variation"],
  ])("%s", (_, input, code) => {
    const answer = processCapability(input);
    expect(answer.ok).toBe(false);
    if (answer.ok) return;
    expect(answer.code).toBe(code);
    expect(answer.reason).toMatch(/^[A-Z0-9].*\.$/);
    expect(Object.keys(answer).sort()).toEqual(["code", "ok", "reason"]);
  });

  it("throws for NaN and for limits reversed, also when it would refuse anyway", () => {
    expect(() => processCapability(size([41, NaN]))).toThrow(/index 1/);
    expect(() => processCapability(size(normals(50, 1), { limits: { lower: 42, upper: 41 } }))).toThrow(CoreError);
    expect(() => processCapability(size([], { limits: { lower: 42, upper: 42 } }))).toThrow(CoreError);
    expect(() => processCapability(size([], { limits: { lower: NaN, upper: 42 } }))).toThrow(CoreError);
  });
});

describe("processCapability", () => {
  it("is provisional and normal from 25 to 99 frames, every index with an interval", () => {
    for (const n of [25, 99]) {
      const answer = processCapability(size(normals(n, 2)));
      if (!answer.ok) throw new Error(answer.reason);
      const { value } = answer;
      expect(value.status).toBe("provisional");
      expect(value.distribution.model.family).toBe("normal");
      expect(value.warnings).toContain("provisional-normal-only");
      for (const { name, value: index, interval } of value.indices) {
        if (name === "Cpmk") continue;
        expect(interval?.lower).toBeLessThan(index);
        expect(interval?.upper).toBeGreaterThan(index);
      }
      expect(value.nonconforming.interval?.upper).toBeGreaterThan(value.nonconforming.total);
    }
  });

  it("chooses a distribution from 100 frames on and says why for each", () => {
    const answer = processCapability(size(normals(100, 2)));
    if (!answer.ok) throw new Error(answer.reason);
    expect(answer.value.status).toBe("established");
    expect(answer.value.distribution.candidates.map(({ family }) => family)).toEqual(SIZE_FAMILIES);
    expect(answer.value.distribution.candidates.filter(({ reason }) => reason === "chosen")).toHaveLength(1);
  });

  it("judges a length of an offset one-sided by quantiles with a bootstrap that is the same for one seed", () => {
    const input: CapabilityInput = {
      values: lengths(150, 4),
      limits: { lower: 0, upper: 60 },
      stability: stable,
      kind: "zero-bound",
      resamples: 199,
    };
    const answer = processCapability(input);
    if (!answer.ok) throw new Error(answer.reason);
    const { value } = answer;
    expect(["rice", "folded-normal", "weibull", "normal"]).toContain(value.distribution.model.family);
    expect(value.indices.map(({ name }) => name)).toEqual(["Ppu", "Ppk"]);
    for (const { interval, value: index, method } of value.indices) {
      expect(method).toBe("quantile");
      expect(interval?.method).toBe("bootstrap");
      expect(interval?.lower).toBeLessThan(index);
      expect(interval?.upper).toBeGreaterThan(index);
    }
    expect(processCapability(input)).toEqual(answer);
    expect(JSON.parse(JSON.stringify(answer))).toEqual(answer);
  });

  it("honours a family, a within sigma and a tail given by the user", () => {
    const within = { sigma: 0.003, degreesOfFreedom: 40, method: "given" } as const;
    const answer = processCapability(size(normals(120, 5), { family: "normal", within, tail: "rounded" }));
    if (!answer.ok) throw new Error(answer.reason);
    expect(answer.value.distribution.chosenBy).toBe("user");
    // arithmetic: 0.04 / (6 x 0.003)
    expectDigits(answer.value.indices.find(({ name }) => name === "Cp")?.value ?? NaN, 0.04 / 0.018, 10);
    expect(answer.value.tailProbability).toBe(0.00135);
  });

  it("does not change with the order in its overall part, nor with the unit", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.constantFrom(1e-3, 1e3, 1e9), (seed, unit) => {
        const values = normals(60, seed);
        const plain = processCapability(size(values));
        const other = processCapability(
          size(
            [...values].reverse().map((v) => v * unit),
            { limits: { lower: 40.98 * unit, upper: 41.02 * unit } },
          ),
        );
        if (!plain.ok || !other.ok) throw new Error("both must answer");
        plain.value.indices.forEach((index, i) => {
          expectDigits(other.value.indices[i]?.value ?? NaN, index.value, 9);
        });
      }),
      { seed: 41, numRuns: 20 },
    );
  });

  it("warns of a distribution that is not normal, of autocorrelation and of values below the natural limit", () => {
    const generator = createSeededGenerator(8);
    const skew = Array.from({ length: 90 }, () => 41 + 0.001 * Math.exp(generator.normal()));
    const walk = skew.map((_, i) => 41 + 0.01 * Math.sin(i / 10));
    const signed = normals(90, 9, 0.001, 0.002);
    const warningsOf = (input: CapabilityInput): readonly string[] => {
      const answer = processCapability(input);
      return answer.ok ? answer.warnings : [];
    };
    expect(warningsOf(size(skew))).toContain("not-normal");
    expect(warningsOf(size(walk))).toContain("autocorrelated");
    expect(warningsOf(size(signed, { kind: "zero-bound", limits: { lower: null, upper: 0.02 } }))).toContain(
      "values-below-natural-limit",
    );
  });
});

describe("processCapability on hard data", () => {
  const generator = createSeededGenerator(15);
  const noise = Array.from({ length: 120 }, generator.normal);

  it.each([
    ["a huge offset", noise.map((z) => 1e9 + 1e-6 * z), { lower: 1e9 - 1e-5, upper: 1e9 + 1e-5 }],
    ["a tiny scale", noise.map((z) => 1e-9 * z), { lower: -5e-9, upper: 5e-9 }],
    ["two distinct values", noise.map((z) => (z > 0 ? 41 : 41.001)), { lower: 40.98, upper: 41.02 }],
    ["an outlier at 1e6 standard deviations", [...noise, 1e7], { lower: -5, upper: 5 }],
    ["values outside both limits", noise.map((z) => 100 + z), { lower: -5, upper: 5 }],
    ["one limit below", noise, { lower: -5, upper: null }],
  ])("%s: every number finite", (_, values, limits) => {
    const answer = processCapability(size(values, { limits, resamples: 99 }));
    if (!answer.ok) throw new Error(answer.reason);
    expect(JSON.parse(JSON.stringify(answer))).toEqual(answer);
    for (const { value, interval } of answer.value.indices) {
      expect(Number.isFinite(value)).toBe(true);
      if (interval !== null) expect(Number.isFinite(interval.lower) && Number.isFinite(interval.upper)).toBe(true);
    }
  });

  it.each([
    ["zeros among form deviations", noise.map((z) => Math.max(0, z))],
    ["lengths with one outlier", [...noise.map(Math.abs), 300]],
    ["counts of micrometres", noise.map((z) => Math.round(3 + Math.abs(2 * z)))],
  ])("%s: every number finite", (_, values) => {
    const answer = processCapability(
      size(values, { kind: "zero-bound", limits: { lower: null, upper: 12 }, resamples: 99 }),
    );
    if (!answer.ok) throw new Error(answer.reason);
    expect(JSON.parse(JSON.stringify(answer))).toEqual(answer);
  });
});

describe("intervals", () => {
  it("of one-sided indices put the observed value on both tails of the noncentral t", () => {
    // Chou, Owen & Borrego 1990: definition of the exact interval
    const { lower, upper } = oneSidedIndexInterval(1.2, { n: 40, degreesOfFreedom: 39, confidence: 0.95 });
    const scale = 3 * Math.sqrt(40);
    expectDigits(noncentralTCdf(scale * 1.2, { df: 39, delta: scale * lower }), 0.975, 9);
    expectDigits(noncentralTCdf(scale * 1.2, { df: 39, delta: scale * upper }), 0.025, 9);
  });

  it("of the nonconforming fraction: two wide limits tend to the exact one-limit interval", () => {
    const sample = { n: 60, mean: 0, sd: 1 };
    const options = { confidence: 0.95, seed: 3 };
    const exact = normalPpmInterval(sample, { lower: null, upper: 3 }, options);
    const pivotal = normalPpmInterval(sample, { lower: -50, upper: 3 }, options);
    expect(exact.method).toBe("noncentral-t");
    // 4000 draws: the ends scatter by about 5 % of the fraction
    expect(Math.abs(pivotal.upper / exact.upper - 1)).toBeLessThan(0.15);
    expect(Math.abs(pivotal.lower / exact.lower - 1)).toBeLessThan(0.25);
  });
});

describe("framesToProve", () => {
  it("gives the smallest number whose lower bound reaches the target", () => {
    const answer = framesToProve(1.6, 1.33);
    if (!answer.ok) throw new Error(answer.reason);
    const bound = (n: number): number => cpkLowerBound(1.6, { n, degreesOfFreedom: n - 1, confidence: 0.95 });
    expect(bound(answer.frames)).toBeGreaterThanOrEqual(1.33);
    expect(bound(answer.frames - 1)).toBeLessThan(1.33);
    expect(framesToProve(1.2, 1.33).ok).toBe(false);
    expect(framesToProve(-1, 1.33).ok).toBe(false);
  });
});

describe("recentNonconformingBound", () => {
  it("counts the last 300 frames only", () => {
    const verdicts = [...Array<boolean>(50).fill(false), ...Array<boolean>(300).fill(true)];
    const answer = recentNonconformingBound(verdicts);
    // Clopper & Pearson 1934 with none found: 1 - 0.05^(1/300)
    expectDigits(answer.ok ? answer.bound : NaN, 1 - 0.05 ** (1 / 300), 11);
    const short = recentNonconformingBound(Array<boolean>(100).fill(true));
    expectDigits(short.ok ? short.bound : NaN, 1 - 0.05 ** (1 / 100), 11);
    expect(recentNonconformingBound([]).ok).toBe(false);
    expect(() => recentNonconformingBound([true], { window: 0 })).toThrow(CoreError);
  });
});

describe("within sigma", () => {
  it("from moving ranges of the e-Handbook individuals example", () => {
    // NIST/SEMATECH e-Handbook 6.3.2.2: mean moving range 1.8778; exact d2 = 2/sqrt(pi)
    const x = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    expectDigits(movingRangeSigma(x).sigma, (1.8777777777777784 * Math.sqrt(Math.PI)) / 2, 12);
  });

  it("has the degrees of freedom that its variance has in simulation", () => {
    const generator = createSeededGenerator(11);
    const sigmas = Array.from({ length: 4000 }, () => movingRangeSigma(Array.from({ length: 50 }, generator.normal)));
    const mean = sigmas.reduce((sum, { sigma }) => sum + sigma, 0) / 4000;
    const variance = sigmas.reduce((sum, { sigma }) => sum + (sigma - mean) ** 2, 0) / 3999;
    const df = sigmas[0]?.degreesOfFreedom ?? NaN;
    // relative standard error of a variance from 4000 samples: 2.2 %; five of them
    expect(Math.abs(1 / (2 * df) / (variance / mean ** 2) - 1)).toBeLessThan(0.11);
  });

  it("pools subgroups", () => {
    // arithmetic: variances 1 and 4 of three values each
    const pooled = pooledSigma([
      [1, 2, 3],
      [2, 4, 6],
    ]);
    expectDigits(pooled.sigma, Math.sqrt(2.5), 14);
    expect(pooled.degreesOfFreedom).toBe(4);
    expect(() => pooledSigma([[1]])).toThrow(CoreError);
  });
});

describe("chooseDistribution", () => {
  it("finds what made the data", () => {
    const generator = createSeededGenerator(12);
    const rayleigh = Array.from({ length: 400 }, () => Math.hypot(8 * generator.normal(), 8 * generator.normal()));
    expect(chooseDistribution(rayleigh, ZERO_BOUND_FAMILIES, 1).family).toBe("rayleigh");
    const lognormal = Array.from({ length: 400 }, () => Math.exp(0.5 * generator.normal()));
    expect(chooseDistribution(lognormal, ZERO_BOUND_FAMILIES, 1).family).toBe("lognormal");
    expect(chooseDistribution(normals(400, 13), SIZE_FAMILIES, 1).family).toBe("normal");
  });

  it("takes a curve of four parameters only where nothing simpler fits", () => {
    const generator = createSeededGenerator(31);
    const heavy = Array.from({ length: 400 }, () => 20 + Math.sinh(generator.normal() / 0.9));
    const choice = chooseDistribution(heavy, SIZE_FAMILIES, 1);
    expect(choice.family).toBe("johnson");
    expect(choice.warnings).toEqual(["flexible-distribution"]);
    expect(choice.candidates.map(({ family, reason }) => [family, reason])).toEqual([
      ["normal", "rejected-by-fit"],
      ["lognormal", "rejected-by-fit"],
      ["weibull", "rejected-by-fit"],
      ["johnson", "chosen"],
    ]);
    const answer = processCapability({
      values: heavy,
      limits: { lower: 0, upper: 60 },
      stability: stable,
      kind: "size",
      resamples: 99,
    });
    if (!answer.ok) throw new Error(answer.reason);
    const { indices, warnings } = answer.value;
    expect(warnings).toContain("flexible-distribution");
    const ppk = indices.find(({ name }) => name === "Ppk")!;
    // elementary: the outer quantiles lie at z = 3, sinh(3 / 0.9) from the median 20, which is 20 from the nearer limit
    expect(ppk.interval!.lower).toBeLessThan(20 / Math.sinh(3 / 0.9));
    expect(ppk.interval!.upper).toBeGreaterThan(20 / Math.sinh(3 / 0.9));
    expect(chooseDistribution(heavy, ["normal"], 1).warnings).toEqual(["no-distribution-fits"]);
  });

  it("says so when nothing fits", () => {
    const twoPeaks = Array.from({ length: 200 }, (_, i) => (i % 2 === 0 ? 10 : 20) + (i % 7) * 0.01);
    const choice = chooseDistribution(twoPeaks, SIZE_FAMILIES, 1);
    expect(choice.warnings).toEqual(["no-distribution-fits"]);
    expect(() => chooseDistribution([-1, 1, 2, 3, 4, 5, 6, 7], ["weibull"], 1)).toThrow(CoreError);
  });
});

describe("offsetCapability", () => {
  const generator = createSeededGenerator(14);
  const offsets = Array.from({ length: 120 }, () => [10 + 8 * generator.normal(), 5 * generator.normal()] as const);

  it("gives the exact fraction of the fitted distribution with an interval around it", () => {
    const answer = offsetCapability({ offsets, largestOffset: 37.5, stability: stable, resamples: 199 });
    if (!answer.ok) throw new Error(answer.reason);
    const { value } = answer;
    expectDigits(value.ppm, 1e6 * fractionOutsideCircle(fitBivariateNormal(offsets), 37.5), 12);
    expect(value.ppmInterval.lower).toBeLessThan(value.ppm);
    expect(value.ppmInterval.upper).toBeGreaterThan(value.ppm);
    expect(value.equivalentInterval?.lower).toBeLessThan(value.equivalentPpk ?? NaN);
  });

  it("refuses like the others", () => {
    const refused = (rest: object) => offsetCapability({ offsets, largestOffset: 37.5, stability: stable, ...rest });
    expect(refused({ stability: { verdict: "unstable" } })).toMatchObject({ ok: false, code: "unstable" });
    expect(refused({ stability: { verdict: "not-judged" } })).toMatchObject({
      ok: false,
      code: "stability-not-judged",
    });
    expect(refused({ offsets: offsets.slice(0, 20) })).toMatchObject({ ok: false, code: "too-few-frames" });
    expect(refused({ largestOffset: null })).toMatchObject({ ok: false, code: "no-limits" });
    expect(refused({ offsets: Array(50).fill([1, 2]) })).toMatchObject({ ok: false, code: "no-variation" });
    expect(() => refused({ offsets: [[NaN, 1]] })).toThrow(CoreError);
    expect(() => refused({ largestOffset: -1 })).toThrow(CoreError);
  });
});

describe("processCapability of form deviations that a gauge shows as 0 or in steps", () => {
  const runOut = (n: number, seed: number): readonly number[] => {
    const generator = createSeededGenerator(seed);
    return Array.from({ length: n }, () => Math.hypot(10 * generator.normal(), 10 * generator.normal()));
  };
  const of = (values: readonly number[]) => {
    const answer = processCapability({
      values,
      limits: { lower: null, upper: 50 },
      stability: stable,
      kind: "zero-bound",
      resamples: 99,
    });
    if (!answer.ok) throw new Error(answer.reason);
    const ppk = answer.value.indices.find(({ name }) => name === "Ppk");
    return { ...answer.value, ppk: ppk?.value ?? NaN, interval: ppk?.interval ?? null };
  };

  it("is not moved by one 0 among 300, by its noise, or by rounding to 1 or 5", () => {
    const raw = runOut(300, 1);
    const exact = of(raw);
    expect(exact.distribution.model.family).toBe("rayleigh");
    const shown = [
      [0, ...raw.slice(1)],
      [-7e-12, ...raw.slice(1)],
      raw.map(Math.round),
      raw.map((value) => 5 * Math.round(value / 5)),
    ];
    for (const values of shown) {
      const { ppk, nonconforming, interval, distribution } = of(values);
      expect(distribution.model.family).toBe("rayleigh");
      expect(Math.abs(ppk / exact.ppk - 1)).toBeLessThan(0.02);
      expect(Math.abs(Math.log(nonconforming.total / exact.nonconforming.total))).toBeLessThan(0.25);
      // the bootstrap leaves the candidates in the race, as it does with exact values
      expect(interval?.lower).toBeLessThan(ppk);
      expect(interval?.upper).toBeGreaterThan(ppk);
    }
  });

  it("takes a known resolution, and says where the gauge resolves nothing", () => {
    const raw = runOut(300, 2);
    const coarse = raw.map((value) => 20 * Math.round(value / 20));
    expect(of(coarse).warnings).toContain("coarse-resolution");
    expect(of(raw.map(Math.round)).warnings).not.toContain("coarse-resolution");
    const known = processCapability({
      values: raw,
      limits: { lower: null, upper: 50 },
      stability: stable,
      kind: "zero-bound",
      resamples: 99,
      resolution: 20,
    });
    expect(known.ok && known.warnings).toContain("coarse-resolution");
    expect(() =>
      processCapability({
        values: raw,
        limits: { lower: null, upper: 50 },
        stability: stable,
        kind: "zero-bound",
        resolution: 0,
      }),
    ).toThrow(CoreError);
  });

  it("has no variation in noise around a value, and an answer for mostly zeros", () => {
    const noise = Array.from({ length: 120 }, (_, i) => (i % 3 === 0 ? 7e-12 : 0) + (i === 5 ? 12 : 0));
    expect(of(noise).ppk).toBeGreaterThan(0);
    const mostly = Array.from({ length: 300 }, (_, i) => (i % 30 === 0 ? 1 : 0));
    const { ppk, nonconforming } = of(mostly);
    expect(ppk).toBeGreaterThan(1);
    expect(nonconforming.total).toBeLessThan(1);
  });

  it("does not call a normal process of a coarse gauge not normal", () => {
    const shown = normals(300, 4, 41, 0.004).map((value) => Math.round(value * 1000) / 1000);
    const answer = processCapability(size(shown, { family: "normal" }));
    expect(answer.ok && answer.value.warnings).toEqual([]);
  });
});
