import { CoreError } from "../errors";
import { type DistributionModel, modelQuantile, modelUpperQuantile } from "../distributions/distribution-model";
import { type PearsonShape, pearsonQuantile } from "../distributions/pearson-quantile";
import { type CapabilityLimits, requireCapabilityLimits, targetOf } from "./capability-limits";
import {
  type CapabilityInterval,
  cpInterval,
  cpkInterval,
  cpmInterval,
  type IndexBasis,
  oneSidedIndexInterval,
} from "./index-intervals";

export type CapabilityIndexName = "Cp" | "Cpl" | "Cpu" | "Cpk" | "Pp" | "Ppl" | "Ppu" | "Ppk" | "Cpm" | "Cpmk";

/** One index with its interval. */
export interface CapabilityIndex {
  readonly name: CapabilityIndexName;
  readonly value: number;
  readonly interval: CapabilityInterval | null;
  /** "normal": mean and sigma; "quantile": ISO 22514-2 from quantiles of a distribution. */
  readonly method: "normal" | "quantile";
}

/** Mean and sigma that indices are made from, given by the user or estimated. */
export interface NormalEstimates {
  readonly mean: number;
  readonly sigma: number;
  /** null: no intervals (sigma known, or its basis unknown). */
  readonly basis: IndexBasis | null;
  /** "within": Cp, Cpl, Cpu, Cpk; "overall": Pp, Ppl, Ppu, Ppk. */
  readonly spread: "within" | "overall";
}

/** Lower, middle and upper quantile of a distribution, unit of the values. */
export interface ReferenceQuantiles {
  readonly low: number;
  readonly median: number;
  readonly high: number;
}

/** Probability of the lower and upper reference quantile: exact 3 sigma (default) or the rounded value of the standard. */
export const EXACT_TAIL = 0.0013498980316300933;
export const ROUNDED_TAIL = 0.00135;

/**
 * Capability indices of a normal process from a mean and a sigma.
 * Formula: Cp = (U - L)/(6 s), Cpu = (U - m)/(3 s), Cpl = (m - L)/(3 s), Cpk = min
 * @param estimates - mean, sigma > 0, basis of the intervals, which spread sigma is
 * @param limits - one or two limits
 * @returns indices that the limits allow: one limit gives its one-sided index, also as the k index
 * @throws CoreError not-finite, out-of-range for sigma or limits, invalid-argument without any limit
 * Accuracy: printed digits on tests/reference/capability.json
 * Source: Kane 1986, J. Quality Technology 18(1), 41-52; ISO 22514-2
 */
export function normalIndices(estimates: NormalEstimates, limits: CapabilityLimits): readonly CapabilityIndex[] {
  const { mean, sigma, basis, spread } = estimates;
  const { lower, upper } = requireCapabilityLimits("normalIndices", limits);
  requireSigma("normalIndices", mean, sigma);
  const letter = spread === "within" ? "C" : "P";
  const low = lower === null ? null : (mean - lower) / (3 * sigma);
  const high = upper === null ? null : (upper - mean) / (3 * sigma);
  const indices: CapabilityIndex[] = [];
  const add = (name: CapabilityIndexName, value: number, interval: CapabilityInterval | null): void => {
    indices.push({ name, value, interval, method: "normal" });
  };
  if (lower !== null && upper !== null) {
    const cp = (upper - lower) / (6 * sigma);
    add(`${letter}p`, cp, basis && cpInterval(cp, basis));
  }
  if (low !== null) add(`${letter}pl`, low, basis && oneSidedIndexInterval(low, basis));
  if (high !== null) add(`${letter}pu`, high, basis && oneSidedIndexInterval(high, basis));
  const least = low === null ? high : high === null ? low : Math.min(low, high);
  if (least === null)
    throw new CoreError("invalid-argument", "normalIndices: limits must have a lower or an upper limit");
  const oneSided = low === null || high === null;
  add(`${letter}pk`, least, basis && (oneSided ? oneSidedIndexInterval(least, basis) : cpkInterval(least, basis)));
  return indices;
}

/**
 * Capability about a target: Cpm and Cpmk.
 * Formula: tau = sqrt(s^2 + (m - T)^2); Cpm = (U - L)/(6 tau), Cpmk = min(U - m, m - L)/(3 tau)
 * @param estimates - mean, sigma > 0 (overall), basis
 * @param limits - two limits; target given or their middle
 * @returns both indices, or none with one limit; Cpmk has no interval
 * @throws CoreError not-finite, out-of-range
 * Source: Chan, Cheng & Spiring 1988, J. Quality Technology 20(3), 162-175; Pearn, Kotz & Johnson 1992, JQT 24(4)
 */
export function targetIndices(
  estimates: Omit<NormalEstimates, "spread">,
  limits: CapabilityLimits,
): readonly CapabilityIndex[] {
  const { mean, sigma, basis } = estimates;
  const { lower, upper } = requireCapabilityLimits("targetIndices", limits);
  const target = targetOf(limits);
  requireSigma("targetIndices", mean, sigma);
  if (lower === null || upper === null || target === null) return [];
  const tau = Math.hypot(sigma, mean - target);
  const cpm = (upper - lower) / (6 * tau);
  const cpmk = Math.min(upper - mean, mean - lower) / (3 * tau);
  const xi = (mean - target) / sigma;
  return [
    { name: "Cpm", value: cpm, interval: basis && cpmInterval(cpm, basis, xi), method: "normal" },
    { name: "Cpmk", value: cpmk, interval: null, method: "normal" },
  ];
}

/**
 * Capability indices from quantiles (ISO 22514-2 distribution method; Clements' and Johnson's methods use it too).
 * Formula: Pp = (U - L)/(X_high - X_low), Ppu = (U - X_50)/(X_high - X_50), Ppl = (X_50 - L)/(X_50 - X_low), Ppk = min
 * @param quantiles - ascending reference quantiles
 * @param limits - one or two limits
 * @param options - naturalLower: the lower limit is a natural boundary (0 of a form deviation): no Ppl and no Pp
 * @returns indices without intervals
 * @throws CoreError out-of-range if the quantiles do not ascend, invalid-argument without a limit
 * Source: ISO 22514-2:2017, distribution-based method
 */
export function quantileIndices(
  { low, median, high }: ReferenceQuantiles,
  limits: CapabilityLimits,
  options: { readonly naturalLower?: boolean } = {},
): readonly CapabilityIndex[] {
  const checked = requireCapabilityLimits("quantileIndices", limits);
  if (!(low < median && median < high)) {
    throw new CoreError("out-of-range", `quantileIndices: quantiles must ascend; got ${low}, ${median}, ${high}`);
  }
  const lower = options.naturalLower === true ? null : checked.lower;
  const { upper } = checked;
  const indices: CapabilityIndex[] = [];
  const add = (name: CapabilityIndexName, value: number): void => {
    indices.push({ name, value, interval: null, method: "quantile" });
  };
  if (lower !== null && upper !== null) add("Pp", (upper - lower) / (high - low));
  const below = lower === null ? null : (median - lower) / (median - low);
  const above = upper === null ? null : (upper - median) / (high - median);
  if (below !== null) add("Ppl", below);
  if (above !== null) add("Ppu", above);
  const least = below === null ? above : above === null ? below : Math.min(below, above);
  if (least === null)
    throw new CoreError("invalid-argument", "quantileIndices: limits must have a lower or an upper limit");
  add("Ppk", least);
  return indices;
}

/**
 * Reference quantiles of a distribution model.
 * @param model - family and parameters (a Johnson model gives Johnson's method)
 * @param tail - probability below the low and above the high quantile, default EXACT_TAIL
 * @returns quantiles, unit of the model
 * @throws CoreError out-of-range for parameters or tail outside their domain
 */
export function referenceQuantiles(model: DistributionModel, tail = EXACT_TAIL): ReferenceQuantiles {
  return { low: modelQuantile(model, tail), median: modelQuantile(model, 0.5), high: modelUpperQuantile(model, tail) };
}

/**
 * Reference quantiles by moments (Clements' method) with the exact Pearson curve instead of the rounded table.
 * @param moments - mean, sigma > 0, skewness and excess kurtosis
 * @param tail - probability below the low and above the high quantile, default EXACT_TAIL
 * @returns quantiles, unit of the mean
 * @throws CoreError out-of-range
 * Source: Clements 1989, Quality Progress 22(9), 95-100
 */
export function clementsQuantiles(
  moments: PearsonShape & { readonly mean: number; readonly sigma: number },
  tail = EXACT_TAIL,
): ReferenceQuantiles {
  const { mean, sigma, skewness, excessKurtosis } = moments;
  requireSigma("clementsQuantiles", mean, sigma);
  const mirrored = { skewness: -skewness, excessKurtosis };
  return {
    low: mean + sigma * pearsonQuantile(tail, moments),
    median: mean + sigma * pearsonQuantile(0.5, moments),
    high: mean - sigma * pearsonQuantile(tail, mirrored),
  };
}

function requireSigma(name: string, mean: number, sigma: number): void {
  if (!Number.isFinite(mean)) throw new CoreError("not-finite", `${name}: mean must be finite; got ${mean}`);
  if (!(sigma > 0 && Number.isFinite(sigma))) {
    throw new CoreError("out-of-range", `${name}: sigma must be > 0; got ${sigma}`, { sigma });
  }
}
