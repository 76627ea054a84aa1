import { bootstrapCapability } from "@/lib/core/capability/bootstrap-capability";
import { EXACT_TAIL, quantileIndices, referenceQuantiles } from "@/lib/core/capability/capability-indices";
import { SIZE_FAMILIES, ZERO_BOUND_FAMILIES } from "@/lib/core/capability/choose-distribution";
import { cpInterval, cpkInterval, cpmInterval, oneSidedIndexInterval } from "@/lib/core/capability/index-intervals";
import { nonconformingPpm, normalPpmInterval } from "@/lib/core/capability/nonconforming-fraction";
import { offsetCapability } from "@/lib/core/capability/offset-capability";
import { fractionOutsideCircle } from "@/lib/core/distributions/bivariate-normal";
import { type DistributionModel, modelQuantile } from "@/lib/core/distributions/distribution-model";
import type { FittedFamily } from "@/lib/core/distributions/fit-distribution";
import { sampleMean, sampleSd } from "@/lib/core/numerics/descriptive-statistics";
import { createSeededGenerator } from "@/lib/core/numerics/seeded-generator";

/** How often one interval method contained the true value. */
export interface Coverage {
  readonly method: string;
  readonly n: number;
  readonly covered: number;
  readonly samples: number;
  /** Asked share, or null where the figure is only reported. */
  readonly band: readonly [number, number] | null;
}

const confidence = 0.95;
const EXACT = [0.94, 0.96] as const;
const CHOSEN = [0.9, 0.99] as const;

/** Coverage of the normal-theory intervals for a process with mean 0.5, sd 1 and limits -4 and 4.5, target 0. */
export function measureExactCoverage(plan: {
  n: number;
  samples: number;
  seed: number;
  /** Factor on the length of every interval, default 1: a test's way to see that a wrong length is noticed. */
  shrink?: number;
}): readonly Coverage[] {
  const { n, samples, seed, shrink = 1 } = plan;
  const generator = createSeededGenerator(seed);
  const [mu, lower, upper] = [0.5, -4, 4.5];
  const truth = {
    cp: (upper - lower) / 6,
    cpu: (upper - mu) / 3,
    cpk: Math.min(upper - mu, mu - lower) / 3,
    cpm: (upper - lower) / (6 * Math.hypot(1, mu)),
  };
  const model = { family: "normal", mean: mu, sd: 1 } as const;
  const ppmOne = nonconformingPpm(model, { lower: null, upper }).total;
  const ppmTwo = nonconformingPpm(model, { lower, upper }).total;
  const basis = { n, degreesOfFreedom: n - 1, confidence };
  const counts = { cp: 0, cpu: 0, cpk: 0, cpm: 0, one: 0, two: 0 };
  // the pivotal interval costs 4000 draws each: a tenth of the samples
  const pivotal = Math.ceil(samples / 10);
  for (let sample = 0; sample < samples; sample++) {
    const x = Array.from({ length: n }, () => mu + generator.normal());
    const [mean, sd] = [sampleMean(x), sampleSd(x)];
    const inside = (interval: { lower: number; upper: number }, value: number): number => {
      const middle = (interval.lower + interval.upper) / 2;
      return Math.abs(value - middle) <= (shrink * (interval.upper - interval.lower)) / 2 ? 1 : 0;
    };
    counts.cp += inside(cpInterval((upper - lower) / (6 * sd), basis), truth.cp);
    counts.cpu += inside(oneSidedIndexInterval((upper - mean) / (3 * sd), basis), truth.cpu);
    counts.cpk += inside(cpkInterval(Math.min(upper - mean, mean - lower) / (3 * sd), basis), truth.cpk);
    const cpm = (upper - lower) / (6 * Math.hypot(sd, mean));
    counts.cpm += inside(cpmInterval(cpm, basis, mean / sd), truth.cpm);
    const one = normalPpmInterval({ n, mean, sd }, { lower: null, upper }, { confidence, seed: sample });
    counts.one += inside(one, ppmOne);
    if (sample < pivotal) {
      counts.two += inside(normalPpmInterval({ n, mean, sd }, { lower, upper }, { confidence, seed: sample }), ppmTwo);
    }
  }
  const row = (method: string, covered: number, of: number, band: readonly [number, number] | null): Coverage => ({
    method,
    n,
    covered,
    samples: of,
    band,
  });
  return [
    row("Cp, Pp: chi-square (exact)", counts.cp, samples, EXACT),
    row("Cpu, Ppu: noncentral t (exact)", counts.cpu, samples, EXACT),
    row("ppm beyond one limit: noncentral t (exact)", counts.one, samples, EXACT),
    row("Cpk, Ppk: Bissell (approximate)", counts.cpk, samples, null),
    row("Cpm: Boyles (approximate)", counts.cpm, samples, null),
    row("ppm beyond two limits: pivotal (approximate)", counts.two, pivotal, null),
  ];
}

interface BootstrapCase {
  readonly name: string;
  readonly model: DistributionModel;
  readonly families: readonly FittedFamily[];
  readonly limits: { readonly lower: number | null; readonly upper: number | null };
}

const bootstrapCases: readonly BootstrapCase[] = [
  {
    name: "Rice 20, 8",
    model: { family: "rice", offset: 20, sigma: 8 },
    families: ZERO_BOUND_FAMILIES,
    limits: { lower: null, upper: 50 },
  },
  {
    name: "Rayleigh 10",
    model: { family: "rayleigh", sigma: 10 },
    families: ZERO_BOUND_FAMILIES,
    limits: { lower: null, upper: 40 },
  },
  {
    name: "folded normal 3, 2",
    model: { family: "folded-normal", mu: 3, sigma: 2 },
    families: ZERO_BOUND_FAMILIES,
    limits: { lower: null, upper: 10 },
  },
  {
    name: "Weibull 1.8, 6",
    model: { family: "weibull", shape: 1.8, scale: 6 },
    families: ZERO_BOUND_FAMILIES,
    limits: { lower: null, upper: 20 },
  },
  {
    name: "lognormal 1.6, 0.35",
    model: { family: "lognormal", logMean: 1.6, logSd: 0.35 },
    families: ZERO_BOUND_FAMILIES,
    limits: { lower: null, upper: 16 },
  },
  {
    name: "lognormal 1.6, 0.2, size",
    model: { family: "lognormal", logMean: 1.6, logSd: 0.2 },
    families: SIZE_FAMILIES,
    limits: { lower: 2, upper: 10 },
  },
  {
    name: "Johnson, heavy tails, as a last resort",
    model: { family: "johnson", system: "unbounded", gamma: -0.5, delta: 1.5, xi: 10, lambda: 1 },
    families: ["johnson"],
    limits: { lower: 2, upper: 25 },
  },
  {
    name: "Johnson, two ends, as a last resort",
    model: { family: "johnson", system: "bounded", gamma: 0.5, delta: 1.1, xi: 0, lambda: 20 },
    families: ["johnson"],
    limits: { lower: -2, upper: 22 },
  },
];

interface BootstrapPlan {
  readonly n: number;
  readonly samples: number;
  readonly resamples: number;
  readonly seed: number;
  /** What the gauge shows multiples of; left out: exact values. */
  readonly resolution?: number;
}

/** Processes that a form deviation can have. */
const FORM_CASES = bootstrapCases.filter(({ families }) => families === ZERO_BOUND_FAMILIES).map(({ name }) => name);

/** Coverage of Ppk where a gauge of this resolution shows the values, zeros among them. */
export function measureRoundedCoverage(plan: BootstrapPlan): readonly Coverage[] {
  return FORM_CASES.map((name) => bootstrapCoverageOf(name, plan));
}

/** Coverage of Ppk by quantiles with a bootstrap that repeats the choice of distribution, and of the offset's fraction. */
export function measureBootstrapCoverage(plan: BootstrapPlan): readonly Coverage[] {
  return [...bootstrapCases.map(({ name }) => bootstrapCoverageOf(name, plan)), offsetCoverage(plan)];
}

/** Coverage of Ppk for one of the simulated processes. */
export function bootstrapCoverageOf(name: string, plan: BootstrapPlan): Coverage {
  const { n, samples, resamples, seed, resolution } = plan;
  const process = bootstrapCases.find((entry) => entry.name === name);
  if (process === undefined) throw new Error(`no simulated process ${name}`);
  const { model, families, limits } = process;
  const generator = createSeededGenerator(seed);
  const truth = ppkOf(model, limits);
  let covered = 0;
  for (let sample = 0; sample < samples; sample++) {
    const exact = Array.from({ length: n }, () => draw(model, generator));
    const values = resolution === undefined ? exact : exact.map((value) => resolution * Math.round(value / resolution));
    const bootstrap = bootstrapCapability({
      values,
      limits,
      families,
      tail: EXACT_TAIL,
      confidence,
      seed: seed * 100_000 + sample,
      resamples,
    });
    const interval = bootstrap.intervals.Ppk;
    if (interval !== undefined && interval.lower <= truth && truth <= interval.upper) covered += 1;
  }
  const shown = resolution === undefined ? "" : `, resolution ${resolution}`;
  return { method: `Ppk, distribution chosen: ${name}${shown}`, n, covered, samples, band: CHOSEN };
}

function offsetCoverage({ n, samples, seed }: { n: number; samples: number; seed: number }): Coverage {
  const generator = createSeededGenerator(seed);
  const truth = 1e6 * fractionOutsideCircle({ mean: [10, 0], covariance: [64, 0, 25] }, 37.5);
  let covered = 0;
  for (let sample = 0; sample < samples; sample++) {
    const offsets = Array.from({ length: n }, () => [10 + 8 * generator.normal(), 5 * generator.normal()] as const);
    const answer = offsetCapability({
      offsets,
      largestOffset: 37.5,
      stability: { verdict: "stable" },
      seed: sample,
      resamples: 199,
    });
    if (answer.ok && answer.value.ppmInterval.lower <= truth && truth <= answer.value.ppmInterval.upper) covered += 1;
  }
  return { method: "offset: fraction outside the circle, pivotal", n, covered, samples, band: CHOSEN };
}

function ppkOf(model: DistributionModel, limits: { lower: number | null; upper: number | null }): number {
  return quantileIndices(referenceQuantiles(model), limits).find(({ name }) => name === "Ppk")?.value ?? NaN;
}

function draw(model: DistributionModel, generator: { uniform: () => number; normal: () => number }): number {
  if (model.family === "rice") {
    return Math.hypot(model.offset + model.sigma * generator.normal(), model.sigma * generator.normal());
  }
  return modelQuantile(model, Math.max(generator.uniform(), 1e-16));
}
