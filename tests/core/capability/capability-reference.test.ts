import { describe, expect, it } from "vitest";
import {
  type CapabilityIndex,
  type CapabilityIndexName,
  clementsQuantiles,
  EXACT_TAIL,
  normalIndices,
  quantileIndices,
  referenceQuantiles,
  ROUNDED_TAIL,
  targetIndices,
} from "@/lib/core/capability/capability-indices";
import { cpInterval, cpkInterval, cpkLowerBound } from "@/lib/core/capability/index-intervals";
import { nonconformingPpm } from "@/lib/core/capability/nonconforming-fraction";
import { type DistributionModel, modelQuantile, modelUpperQuantile } from "@/lib/core/distributions/distribution-model";
import { pearsonQuantile } from "@/lib/core/distributions/pearson-quantile";
import { expectDigits } from "../../helpers/expect-digits";
import reference from "../../reference/capability.json";
import nist from "../../reference/nist-capability.json";

// The file mixes case shapes; each test reads its own case by id.
type Loose = any;
const caseOf = (id: string): Loose => reference.cases.find((entry) => entry.id === id);
const valueOf = (indices: readonly CapabilityIndex[], name: CapabilityIndexName): number =>
  indices.find((index) => index.name === name)?.value ?? NaN;
const within = (actual: number, expected: number, tolerance: number): void =>
  expect(Math.abs(actual - expected), `${actual} against ${expected}`).toBeLessThanOrEqual(tolerance);

describe("published capability cases (tests/reference/capability.json)", () => {
  it("interval of Cp: Montgomery, example 8.4", () => {
    const { input, expected, computed, tolerance } = caseOf("cp-ci");
    const basis = { n: input.n, degreesOfFreedom: input.n - 1, confidence: input.confidence };
    const indices = normalIndices(
      { mean: 50, sigma: input.s, basis, spread: "within" },
      { lower: input.lsl, upper: input.usl },
    );
    expectDigits(valueOf(indices, "Cp"), computed.cp, 13);
    const interval = cpInterval(computed.cp, basis);
    expectDigits(interval.lower, computed.ci[0], 12);
    expectDigits(interval.upper, computed.ci[1], 12);
    within(interval.lower, expected.ci[0], tolerance.abs);
    within(interval.upper, expected.ci[1], tolerance.abs);
    within(valueOf(indices, "Cp"), expected.cp, tolerance.abs);
  });

  it("interval and lower bound of Cpk: Bissell 1990", () => {
    const { computed } = caseOf("cpk-ci-bissell");
    for (const row of computed) {
      const basis = { n: row.n, degreesOfFreedom: row.n - 1, confidence: 0.95 };
      expectDigits(cpkInterval(row.cpk, basis).lower, row.ci95[0], 12);
      expectDigits(cpkInterval(row.cpk, basis).upper, row.ci95[1], 12);
      expectDigits(cpkLowerBound(row.cpk, basis), row.lower95_one_sided, 12);
    }
    expect(computed.length).toBe(24);
  });

  it("ppm from Cp: Montgomery, table 8.2, and exact normal tails", () => {
    const { expected, computed } = caseOf("ppm-from-cp");
    for (const [cp, { two, one }] of Object.entries<{ two: number; one: number }>(computed)) {
      const limit = 3 * Number(cp);
      const normal = { family: "normal", mean: 0, sd: 1 } as const;
      expectDigits(nonconformingPpm(normal, { lower: -limit, upper: limit }).total, two, 11);
      expectDigits(nonconformingPpm(normal, { lower: null, upper: limit }).total, one, 11);
      const printed = expected.two_sided[cp];
      // printed rounding: half a unit of its last place; 0.06 and 0.7 are printed truncated, so one whole unit; at 2.0 the
      // table prints 0.0018, rounded before doubling: the exact value is 0.00197
      if (printed !== undefined) within(two, printed, printed >= 1 ? 1 : printed > 0.01 ? 0.01 : 0.0002);
    }
  });

  it("ppm of a process off its centre (exact)", () => {
    const { input, expected } = caseOf("ppm-off-centre");
    const ppm = nonconformingPpm(
      { family: "normal", mean: input.mean, sd: input.sigma },
      { lower: input.lsl, upper: input.usl },
    );
    expectDigits(ppm.below, expected.ppm_below, 6);
    expectDigits(ppm.above, expected.ppm_above, 6);
  });

  it("Cpm and Cpmk: Chan, Cheng & Spiring 1988; Montgomery, example 8.3", () => {
    const { input, expected, computed } = caseOf("cpm");
    for (const [i, process] of [input.A, input.B].entries()) {
      const limits = { lower: input.lsl, upper: input.usl, target: input.target };
      const indices = targetIndices({ mean: process.mean, sigma: process.sd, basis: null }, limits);
      expectDigits(valueOf(indices, "Cpm"), computed.cpm[i], 13);
      expectDigits(valueOf(indices, "Cpmk"), computed.cpkm[i], 13);
      within(valueOf(indices, "Cpm"), expected.cpm[i], 0.006);
      const spread = normalIndices({ mean: process.mean, sigma: process.sd, basis: null, spread: "within" }, limits);
      within(valueOf(spread, "Cpk"), expected.cpk[i], 0.006);
    }
  });

  const models: Record<string, DistributionModel> = {
    "normal(10,1)": { family: "normal", mean: 10, sd: 1 },
    "rayleigh sigma=0.004": { family: "rayleigh", sigma: 0.004 },
    "half-normal sigma=0.004 (folded normal, mean 0)": { family: "folded-normal", mu: 0, sigma: 0.004 },
    "folded normal mu=0.003 sigma=0.002": { family: "folded-normal", mu: 0.003, sigma: 0.002 },
    "weibull shape=1.8 scale=0.006": { family: "weibull", shape: 1.8, scale: 0.006 },
    "lognormal mu=ln(0.005) sigma=0.35": { family: "lognormal", logMean: Math.log(0.005), logSd: 0.35 },
    "gamma shape=4 scale=0.001": { family: "gamma", shape: 4, scale: 0.001 },
  };

  it.each(Object.keys(caseOf("iso22514-2-percentile").expected.distributions))(
    "quantile method of ISO 22514-2, %s, rounded and exact probability",
    (name) => {
      const entry = caseOf("iso22514-2-percentile").expected.distributions[name];
      const model = models[name];
      if (model === undefined) throw new Error(`no model for ${name}`);
      const limits = { lower: entry.limits[0], upper: entry.limits[1] };
      const quantiles = referenceQuantiles(model, ROUNDED_TAIL);
      expectDigits(quantiles.low, entry.q_0_135_50_99_865[0], 10);
      expectDigits(quantiles.median, entry.q_0_135_50_99_865[1], 12);
      expectDigits(quantiles.high, entry.q_0_135_50_99_865[2], 11);
      for (const [tail, idx] of [
        [ROUNDED_TAIL, entry.idx],
        [EXACT_TAIL, entry.idx_with_exact_3sigma_prob],
      ]) {
        const indices = quantileIndices(referenceQuantiles(model, tail), limits);
        expectDigits(valueOf(indices, "Pp"), idx.cp, 10);
        expectDigits(valueOf(indices, "Ppu"), idx.cpk_u, 10);
        expectDigits(valueOf(indices, "Ppl"), idx.cpk_l, 10);
        expectDigits(valueOf(indices, "Ppk"), Math.min(idx.cpk_u, idx.cpk_l), 10);
      }
      const oneSided = quantileIndices(referenceQuantiles(model, ROUNDED_TAIL), limits, { naturalLower: true });
      expect(oneSided.map((index) => index.name)).toEqual(["Ppu", "Ppk"]);
    },
  );

  it("closed-form quantiles", () => {
    const { expected } = caseOf("closed-form-quantiles");
    const shapes: readonly [DistributionModel, Record<string, number>][] = [
      [{ family: "rayleigh", sigma: 1 }, expected.rayleigh],
      [{ family: "folded-normal", mu: 0, sigma: 1 }, expected.half_normal],
    ];
    for (const [model, quantiles] of shapes) {
      expectDigits(modelQuantile(model, 0.00135), quantiles["0.135%"] ?? NaN, 12);
      expectDigits(modelQuantile(model, 0.5), quantiles["50%"] ?? NaN, 12);
      expectDigits(modelUpperQuantile(model, 0.00135), quantiles["99.865%"] ?? NaN, 12);
    }
  });

  it("Clements' method with the exact Pearson curve", () => {
    const { input, computed } = caseOf("clements");
    const shape = { skewness: input.skewness, excessKurtosis: input.excess_kurtosis };
    const quantiles = clementsQuantiles({ ...shape, mean: input.mean, sigma: input.s }, ROUNDED_TAIL);
    within(pearsonQuantile(0.00135, shape), computed.exact_pearson_quantiles[0], 1e-9);
    within(pearsonQuantile(0.5, shape), computed.exact_pearson_quantiles[1], 1e-9);
    within(pearsonQuantile(0.99865, shape), computed.exact_pearson_quantiles[2], 1e-9);
    within(quantiles.low, computed.Lp, 1e-8);
    within(quantiles.median, computed.M, 1e-8);
    within(quantiles.high, computed.Up, 1e-8);
    const indices = quantileIndices(quantiles, { lower: input.lsl, upper: input.usl });
    within(valueOf(indices, "Pp"), computed.cp, 1e-9);
    within(valueOf(indices, "Ppl"), computed.cpl, 1e-9);
    within(valueOf(indices, "Ppu"), computed.cpu, 1e-9);
    const tables: readonly [number, number, readonly number[]][] = [
      [1.1, 2.6, computed.exact_at_skew_1_1_kurt_2_6],
      [1.0, 2.6, computed.more["skew 1.0, kurt 2.6"]],
      [1.2, 2.4, computed.more["skew 1.2, kurt 2.4"]],
    ];
    for (const [skewness, excessKurtosis, row] of tables) {
      // the reference asks 1e-5; its 7 printed decimals are good to 5e-7 against the exact case above
      within(pearsonQuantile(0.00135, { skewness, excessKurtosis }), row[0] ?? NaN, 5e-7);
      within(pearsonQuantile(0.5, { skewness, excessKurtosis }), row[1] ?? NaN, 5e-7);
      within(pearsonQuantile(0.99865, { skewness, excessKurtosis }), row[2] ?? NaN, 5e-7);
    }
    within(pearsonQuantile(EXACT_TAIL, { skewness: 0, excessKurtosis: 0 }), computed.more["skew 0, kurt 0"][0], 1e-9);
  });

  it("Johnson quantiles", () => {
    const { input, expected } = caseOf("johnson");
    for (const [key, system] of [
      ["SU", "unbounded"],
      ["SB", "bounded"],
    ] as const) {
      const { gamma, delta, xi, lam } = input[key];
      const quantiles = referenceQuantiles({ family: "johnson", system, gamma, delta, xi, lambda: lam }, ROUNDED_TAIL);
      expectDigits(quantiles.low, expected[key]["0.00135"], 11);
      expectDigits(quantiles.median, expected[key]["0.5"], 12);
      expectDigits(quantiles.high, expected[key]["0.99865"], 11);
    }
  });

  it("NIST/SEMATECH e-Handbook 6.1.6 (tests/reference/nist-capability.json)", () => {
    const example = nist.cases[0];
    if (example === undefined) throw new Error("case missing");
    const { usl, lsl, mean, s, target } = example.input;
    const limits = { lower: lsl, upper: usl, target };
    const indices = normalIndices({ mean, sigma: s, basis: null, spread: "within" }, limits);
    within(valueOf(indices, "Cp"), example.expected.cp, 5e-5);
    within(valueOf(indices, "Cpk"), example.expected.cpk, 5e-5);
    within(valueOf(indices, "Cpu"), example.expected.cpu, 5e-5);
    within(valueOf(indices, "Cpl"), example.expected.cpl, 5e-5);
    expectDigits(valueOf(targetIndices({ mean, sigma: s, basis: null }, limits), "Cpm"), example.computed.cpm_T14, 13);
  });
});
