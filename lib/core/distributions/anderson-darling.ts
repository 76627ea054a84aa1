import { CoreError } from "../errors";
import { integratePanels } from "../numerics/gauss-legendre";
import { createSeededGenerator } from "../numerics/seeded-generator";
import { isConstant, sampleMean, sampleSd } from "../numerics/descriptive-statistics";
import { type DistributionModel, modelCdf, modelQuantile, modelSf } from "./distribution-model";
import { fitDistribution } from "./fit-distribution";
import { fitRounded, fitRoundedNormal } from "./fit-rounded";
import { type RiceParameters, riceCdf, riceDensity, riceSf } from "./rice";
import { roundedSample, type RoundedSample, shownAs } from "./rounded-sample";

/** Anderson-Darling test of a sample against a fitted family. */
export interface AndersonDarling {
  readonly statistic: number;
  /** Statistic adjusted for the sample size; equal to the statistic when p comes from simulation. */
  readonly adjusted: number;
  readonly p: number;
  readonly method: string;
}

/**
 * Anderson-Darling statistic of a sample against a fully known distribution.
 * Formula: A^2 = -n - (1/n) sum (2i - 1) (ln F(x_(i)) + ln(1 - F(x_(n+1-i))))
 * @param x - number[n], n >= 1, all finite
 * @param model - the distribution
 * @returns A^2, finite; a value outside the support counts with the smallest representable probability
 * @throws CoreError too-few-values, not-finite
 * Source: Anderson & Darling 1954, JASA 49, 765-769
 */
export function andersonDarlingStatistic(x: readonly number[], model: DistributionModel): number {
  if (x.length < 1)
    throw new CoreError("too-few-values", "andersonDarlingStatistic: x must have at least 1 value; got 0");
  const sorted = Float64Array.from(x).sort();
  for (const value of sorted) {
    if (!Number.isFinite(value)) {
      throw new CoreError("not-finite", `andersonDarlingStatistic: x must be finite; got ${value}`);
    }
  }
  return statisticOf(tailsAt(sorted, model));
}

/** A^2 from both tails at the ascending values. */
function statisticOf({ cdf, sf }: Tails): number {
  const n = cdf.length;
  let sum = 0;
  for (let i = 0; i < n; i++) sum += (2 * i + 1) * safeLog(cdf[i]!) + (2 * (n - i) - 1) * safeLog(sf[i]!);
  return -n - sum / n;
}

function tailsAt(sorted: Float64Array, model: DistributionModel): Tails {
  return model.family === "rice" ? riceTails(sorted, model) : separateTails(sorted, model);
}

/**
 * Anderson-Darling test of normality, mean and standard deviation estimated.
 * Formula: A* = A^2 (1 + 0.75/n + 2.25/n^2), p by four exponential branches
 * @param x - number[n], n >= 8, all finite, not all equal
 * @returns statistic, adjusted statistic and p
 * @throws CoreError too-few-values if n < 8, not-finite, degenerate if all values are equal
 * Accuracy: 1e-9 on tests/reference/anderson-darling.json; the p formula reproduces the published points to 5e-4
 * Source: D'Agostino & Stephens 1986, Goodness-of-Fit Techniques, tables 4.7 and 4.9 (case 3). Not to be mixed with the
 * older adjustment 1 + 4/n - 25/n^2, which has other percentage points
 */
export function andersonDarlingNormal(x: readonly number[]): AndersonDarling {
  requireSample("andersonDarlingNormal", x);
  // From the first value: a mean of 1e9 itself has lost the digits that deviations from it need.
  const shifted = x.map((value) => value - x[0]!);
  const model = { family: "normal", mean: sampleMean(shifted), sd: sampleSd(shifted) } as const;
  return normalTest(andersonDarlingStatistic(shifted, model), x.length);
}

/**
 * Anderson-Darling test of a sample against a family whose parameters were estimated from it.
 * @param x - number[n], n >= 8, all finite, not all equal
 * @param model - the fitted model
 * @param options - seed and number of simulated samples (default 199) for families without a published approximation
 * @returns statistic and p; p = 0 if a value lies outside the support
 * @throws CoreError too-few-values, not-finite, degenerate
 * Method: normal and lognormal by D'Agostino & Stephens; Weibull by the extreme-value approximation; Rayleigh as an
 * exponential distribution of squares; Rice, folded normal, Johnson and others by parametric bootstrap with refitting.
 * Source: D'Agostino & Stephens 1986, tables 4.9, 4.12 and 4.17; MIL-HDBK-17-1F 2002, eq. 8.3.4.2 (Weibull, from memory)
 */
export function andersonDarlingFitted(
  x: readonly number[],
  model: DistributionModel,
  options: { readonly seed: number; readonly samples?: number },
): AndersonDarling {
  requireSample("andersonDarlingFitted", x);
  if (model.family === "normal") return andersonDarlingNormal(x);
  const statistic = andersonDarlingStatistic(x, model);
  if (x.some((value) => modelCdf(model, value) === 0 || modelSf(model, value) === 0))
    return { statistic, adjusted: statistic, p: 0, method: "support" };
  if (model.family === "lognormal") return andersonDarlingNormal(x.map(Math.log));
  return (
    approximateTest(statistic, model, x.length) ?? {
      statistic,
      adjusted: statistic,
      p: simulatedPValue(x.length, model, statistic, options),
      method: "parametric bootstrap",
    }
  );
}

/**
 * The same test where values are known to intervals only: values shown alike are spread evenly over the probability of what
 * they stand for, so that ties do not count against a distribution. Of a coarse gauge the test is cautious: it sees no
 * misfit within what is shown alike.
 * @param sample - different values with what they stand for, n >= 8
 * @param model - the model fitted to the sample; of a normal one mean and standard deviation are those of greatest likelihood
 *   for the intervals, since rounding adds to the standard deviation of what is shown
 * @param options - see andersonDarlingFitted
 * @returns statistic and p; p = 0 if a value lies outside the support
 * @throws CoreError too-few-values
 * Method: as andersonDarlingFitted; a parametric bootstrap rounds its samples in the same way.
 */
export function andersonDarlingRounded(
  sample: RoundedSample,
  model: DistributionModel,
  options: { readonly seed: number; readonly samples?: number },
): AndersonDarling {
  const { n } = sample;
  if (n < 8)
    throw new CoreError("too-few-values", `andersonDarlingRounded: sample must have at least 8 values; got ${n}`);
  const tested = unbiased(model.family === "normal" ? (fitRoundedNormal(sample)?.model ?? model) : model, n);
  const statistic = roundedStatistic(sample, tested);
  if (!sample.counts.every((_, i) => modelCdf(tested, sample.high[i]!) > 0 && modelSf(tested, lowerEnd(sample, i)) > 0))
    return { statistic, adjusted: statistic, p: 0, method: "support" };
  const approximate = approximateTest(statistic, tested, n);
  if (approximate !== null) return { ...approximate, method: `${approximate.method}, rounded values spread` };
  const { samples = 199 } = options;
  const generator = createSeededGenerator(options.seed);
  let above = 1;
  for (let k = 0; k < samples; k++) {
    const drawn = Array.from({ length: n }, () => shownAs(sample.grid, drawFrom(tested, generator)));
    if (isConstant(drawn)) continue;
    const rounded = roundedSample(drawn, sample.grid);
    const start = tested.family === "johnson" ? null : tested;
    const refitted = isRefitted(tested.family) ? fitRounded(tested.family, rounded, start)?.model : null;
    if (roundedStatistic(rounded, refitted ?? tested) >= statistic) above += 1;
  }
  const p = above / (samples + 1);
  return { statistic, adjusted: statistic, p, method: "parametric bootstrap, rounded values spread" };
}

/** Standard deviations as the published percentage points take them: with the divisor n - 1. */
function unbiased(model: DistributionModel, n: number): DistributionModel {
  const factor = Math.sqrt(n / (n - 1));
  if (model.family === "normal") return { ...model, sd: model.sd * factor };
  return model.family === "lognormal" ? { ...model, logSd: model.logSd * factor } : model;
}

function lowerEnd({ low }: RoundedSample, i: number): number {
  return low[i] === -Infinity ? 0 : low[i]!;
}

function roundedStatistic(sample: RoundedSample, model: DistributionModel): number {
  const { n, low, high, counts } = sample;
  const edges = Float64Array.from([...low.map((_, i) => lowerEnd(sample, i)), ...high]).sort();
  const tails = tailsAt(edges, model);
  const places = new Map(Array.from(edges, (edge, place) => [edge, place]));
  const cdf = new Float64Array(n);
  const sf = new Float64Array(n);
  let place = 0;
  counts.forEach((count, i) => {
    const censored = low[i] === -Infinity;
    const from = places.get(lowerEnd(sample, i))!;
    const to = places.get(high[i]!)!;
    const [below, above] = [censored ? 0 : tails.cdf[from]!, tails.sf[to]!];
    const [upTo, rest] = [tails.cdf[to]!, censored ? 1 : tails.sf[from]!];
    for (let k = 0; k < count; k++, place++) {
      const share = (k + 0.5) / count;
      cdf[place] = below + share * (upTo - below);
      sf[place] = above + (1 - share) * (rest - above);
    }
  });
  return statisticOf({ cdf: cdf.sort(), sf: sf.sort().reverse() });
}

/** p by a published approximation; null for families that have none. */
function approximateTest(statistic: number, { family }: DistributionModel, n: number): AndersonDarling | null {
  switch (family) {
    case "normal":
    case "lognormal":
      return normalTest(statistic, n);
    case "weibull": {
      const adjusted = statistic * (1 + 0.2 / Math.sqrt(n));
      const p = 1 / (1 + Math.exp(-0.1 + 1.24 * Math.log(adjusted) + 4.48 * adjusted));
      return { statistic, adjusted, p, method: "extreme value, both parameters estimated" };
    }
    case "rayleigh": {
      const adjusted = statistic * (1 + 0.6 / n);
      return { statistic, adjusted, p: exponentialPValue(adjusted), method: "exponential distribution of squares" };
    }
    default:
      return null;
  }
}

function normalTest(statistic: number, n: number): AndersonDarling {
  const adjusted = statistic * (1 + 0.75 / n + 2.25 / n ** 2);
  return { statistic, adjusted, p: andersonDarlingNormalP(adjusted), method: "D'Agostino & Stephens 1986, case 3" };
}

function safeLog(probability: number): number {
  return Math.log(Math.max(probability, Number.MIN_VALUE));
}

interface Tails {
  readonly cdf: Float64Array;
  readonly sf: Float64Array;
}

function separateTails(sorted: Float64Array, model: DistributionModel): Tails {
  return { cdf: sorted.map((value) => modelCdf(model, value)), sf: sorted.map((value) => modelSf(model, value)) };
}

/** Both tails at every sorted value by adding up the density between neighbours: one integral instead of n. */
function riceTails(sorted: Float64Array, parameters: RiceParameters): Tails {
  const n = sorted.length;
  const gaps = new Float64Array(n);
  for (let i = 1; i < n; i++) {
    const width = sorted[i]! - sorted[i - 1]!;
    const panels = Math.min(200, Math.ceil(width / parameters.sigma));
    if (width > 0)
      gaps[i] = integratePanels((u) => riceDensity(u, parameters), [sorted[i - 1]!, sorted[i]!], panels, 10);
  }
  const cdf = new Float64Array(n);
  const sf = new Float64Array(n);
  cdf[0] = riceCdf(sorted[0]!, parameters);
  for (let i = 1; i < n; i++) cdf[i] = Math.min(1, cdf[i - 1]! + gaps[i]!);
  sf[n - 1] = riceSf(sorted[n - 1]!, parameters);
  for (let i = n - 2; i >= 0; i--) sf[i] = Math.min(1, sf[i + 1]! + gaps[i + 1]!);
  return { cdf, sf };
}

/**
 * p value of the adjusted Anderson-Darling statistic of normality, mean and standard deviation estimated.
 * @param a - adjusted statistic A* = A^2 (1 + 0.75/n + 2.25/n^2), >= 0
 * @returns p in [0, 1]; from 13 on the last value of the formula, which turns upwards at 153
 * Source: D'Agostino & Stephens 1986, Goodness-of-Fit Techniques, table 4.9
 */
export function andersonDarlingNormalP(a: number): number {
  if (a >= 13) return 3.7e-24;
  if (a >= 0.6) return Math.exp(1.2937 - 5.709 * a + 0.0186 * a * a);
  if (a >= 0.34) return Math.exp(0.9177 - 4.279 * a - 1.38 * a * a);
  if (a >= 0.2) return -Math.expm1(-8.318 + 42.796 * a - 59.938 * a * a);
  return -Math.expm1(-13.436 + 101.14 * a - 223.73 * a * a);
}

function exponentialPValue(a: number): number {
  if (a >= 9) return 4e-7;
  if (a >= 0.95) return Math.exp(0.731 - 3.009 * a + 0.15 * a * a);
  if (a >= 0.51) return Math.exp(0.9209 - 3.353 * a + 0.3 * a * a);
  if (a >= 0.26) return -Math.expm1(-6.1327 + 20.218 * a - 18.663 * a * a);
  return -Math.expm1(-12.2204 + 67.459 * a - 110.3 * a * a);
}

function simulatedPValue(
  n: number,
  model: DistributionModel,
  observed: number,
  { seed, samples = 199 }: { readonly seed: number; readonly samples?: number },
): number {
  const generator = createSeededGenerator(seed);
  let above = 1;
  for (let sample = 0; sample < samples; sample++) {
    const drawn = Array.from({ length: n }, () => drawFrom(model, generator));
    const { family } = model;
    const refitted = isRefitted(family) ? fitDistribution(family, drawn)?.model : model;
    if (andersonDarlingStatistic(drawn, refitted ?? model) >= observed) above += 1;
  }
  return above / (samples + 1);
}

/** Families without a published approximation whose simulated samples are fitted anew. */
function isRefitted(family: DistributionModel["family"]): family is "rice" | "folded-normal" | "johnson" {
  return family === "rice" || family === "folded-normal" || family === "johnson";
}

function drawFrom(model: DistributionModel, generator: { uniform: () => number; normal: () => number }): number {
  if (model.family === "rice") {
    return Math.hypot(model.offset + model.sigma * generator.normal(), model.sigma * generator.normal());
  }
  if (model.family === "folded-normal") return Math.abs(model.mu + model.sigma * generator.normal());
  return modelQuantile(model, Math.max(generator.uniform(), 1e-16));
}

function requireSample(name: string, x: readonly number[]): void {
  if (x.length < 8) throw new CoreError("too-few-values", `${name}: x must have at least 8 values; got ${x.length}`);
  const index = x.findIndex((value) => !Number.isFinite(value));
  if (index >= 0) throw new CoreError("not-finite", `${name}: x must be finite; got ${x[index]} (at index ${index})`);
  if (isConstant(x)) throw new CoreError("degenerate", `${name}: x must not be constant`);
}
