import { CoreError } from "../errors";
import type { DistributionModel } from "../distributions/distribution-model";
import type { FittedFamily } from "../distributions/fit-distribution";
import { andersonDarlingNormal, andersonDarlingRounded } from "../distributions/anderson-darling";
import { roundedSampleOf, type ValueGridOptions, withoutNoise } from "../distributions/rounded-sample";
import { autocorrelation, isConstant, sampleMean, sampleSd } from "../numerics/descriptive-statistics";
import { bootstrapCapability } from "./bootstrap-capability";
import {
  type CapabilityIndex,
  EXACT_TAIL,
  normalIndices,
  quantileIndices,
  referenceQuantiles,
  ROUNDED_TAIL,
  targetIndices,
} from "./capability-indices";
import { type CapabilityLimits, requireCapabilityLimits } from "./capability-limits";
import {
  chooseDistribution,
  type DistributionCandidate,
  SIZE_FAMILIES,
  ZERO_BOUND_FAMILIES,
} from "./choose-distribution";
import { framesToProve } from "./frames-to-prove";
import type { IndexBasis } from "./index-intervals";
import { type NonconformingPpm, nonconformingPpm, normalPpmInterval } from "./nonconforming-fraction";
import { movingRangeSigma, type WithinSigma } from "./within-sigma";

/** Fewer frames give no capability at all. */
export const FEWEST_FRAMES = 25;
/** From here on the distribution is chosen from the data; below, normal only and provisional. */
export const FRAMES_FOR_CHOICE = 100;

/** What the chart of the stream says. */
export type Stability =
  | { readonly verdict: "stable" }
  | { readonly verdict: "unstable"; readonly because?: string }
  | { readonly verdict: "not-judged"; readonly because?: string };

/** One characteristic of one stream. */
export interface CapabilityInput {
  /** In order of time, one per frame, any unit, all finite. */
  readonly values: readonly number[];
  readonly limits: CapabilityLimits;
  readonly stability: Stability;
  /** "size": no natural boundary; "zero-bound": form or position, 0 is a boundary and no specification. */
  readonly kind: "size" | "zero-bound";
  /** null or left out: chosen from the data. */
  readonly family?: FittedFamily | null;
  /** Left out: mean moving range. */
  readonly within?: WithinSigma | null;
  /** Two-sided, default 0.95. */
  readonly confidence?: number;
  /** Probability beyond the outer quantiles: exact 0.0013498980 (default) or the rounded 0.00135 of the standard. */
  readonly tail?: "exact" | "rounded";
  /** Index to prove, for the number of frames; default 4/3. */
  readonly provenIndex?: number;
  /** Of all simulated intervals, integer >= 0; default 1. */
  readonly seed?: number;
  /** Resamples of the bootstrap, default 999. */
  readonly resamples?: number;
  /** Resolution of the values where it is known, > 0, their unit; found from the values otherwise. */
  readonly resolution?: number;
}

/** What a characteristic without a limit is refused by. */
export const NO_LIMITS = { ok: false, code: "no-limits", reason: "The drawing gives no limit." } as const;

export type CapabilityRefusal = "unstable" | "stability-not-judged" | "too-few-frames" | "no-limits" | "no-variation";

export type CapabilityWarning =
  | "provisional-normal-only"
  | "not-normal"
  | "flexible-distribution"
  | "no-distribution-fits"
  | "autocorrelated"
  | "values-below-natural-limit"
  | "coarse-resolution"
  | "bootstrap-incomplete";

/** Capability of one characteristic, everything that a screen shows. */
export interface ProcessCapability {
  readonly status: "provisional" | "established";
  readonly frames: number;
  readonly mean: number;
  /** Overall standard deviation, n - 1. */
  readonly sd: number;
  readonly within: WithinSigma | null;
  readonly distribution: {
    readonly model: DistributionModel;
    readonly chosenBy: "default" | "user" | "data";
    readonly andersonDarlingP: number;
    readonly candidates: readonly DistributionCandidate[];
  };
  /** Probability beyond the outer quantiles that was used. */
  readonly tailProbability: number;
  readonly indices: readonly CapabilityIndex[];
  readonly nonconforming: NonconformingPpm;
  readonly observedOutside: number;
  readonly framesToProve: {
    readonly target: number;
    /** Total needed, or null with a reason. */
    readonly frames: number | null;
    /** Still missing, or null. */
    readonly missing: number | null;
    readonly reason: string | null;
  };
  readonly warnings: readonly CapabilityWarning[];
}

export type CapabilityAnswer =
  | { readonly ok: true; readonly value: ProcessCapability; readonly warnings: readonly CapabilityWarning[] }
  | { readonly ok: false; readonly code: CapabilityRefusal; readonly reason: string };

/**
 * Capability of one characteristic: refusal with a reason, provisional (25 to 99 frames, normal) or established.
 * @param input - values, limits, stability and options
 * @returns a reason (unstable, not judged, under 25 frames, no limits, no variation) or indices with intervals, ppm with
 *   interval, the distribution with everything that was tried, and the frames still needed
 * @throws CoreError not-finite for a value or limit, out-of-range for limits reversed or options outside their domain
 * Method: within sigma -> Cp, Cpk (normal only); overall -> Pp, Ppk by mean and s when normal, by the quantiles of the
 * chosen distribution otherwise (ISO 22514-2); intervals chi-square, Bissell, noncentral t and Boyles, or a bootstrap that
 * repeats the choice of distribution when it was not normal. Values that are known to a resolution only, and zeros of a gauge
 * that showed nothing, enter likelihood, test and bootstrap as the intervals that they stand for; mean and s of a normal
 * process are those of the values as shown, without a correction for rounding, which is on the safe side.
 * Accuracy: tests/core/capability/process-capability.test.ts; coverage of the intervals by tests/bench/interval-coverage.ts
 * Source: ISO 22514-2:2017; Bissell 1990; Boyles 1991; Efron & Tibshirani 1993, An Introduction to the Bootstrap, ch. 13
 */
export function processCapability(given: CapabilityInput): CapabilityAnswer {
  const refusal = refuseCapability(given);
  if (refusal !== null) return refusal;
  const input = { ...given, values: withoutNoise(given.values) };
  return input.values.length < FRAMES_FOR_CHOICE ? provisional(input) : established(input);
}

/**
 * The reason why a capability must not be stated, or null.
 * @param input - values, limits and stability
 * @returns code and sentence, or null
 * @throws CoreError not-finite, out-of-range for limits reversed
 */
export function refuseCapability(
  input: Pick<CapabilityInput, "values" | "limits" | "stability">,
): Extract<CapabilityAnswer, { ok: false }> | null {
  const { values, stability } = input;
  const limits = requireCapabilityLimits("processCapability", input.limits);
  const index = values.findIndex((value) => !Number.isFinite(value));
  if (index >= 0) {
    throw new CoreError(
      "not-finite",
      `processCapability: values must be finite; got ${values[index]} (at index ${index})`,
      {
        index,
      },
    );
  }
  const refuse = (code: CapabilityRefusal, reason: string) => ({ ok: false, code, reason }) as const;
  const because = stability.verdict !== "stable" && stability.because ? `: ${stability.because}` : "";
  if (limits.lower === null && limits.upper === null) return NO_LIMITS;
  if (stability.verdict === "unstable") return refuse("unstable", `The stream is not stable${because}.`);
  if (values.length < FEWEST_FRAMES) {
    const counted = values.length === 1 ? "1 frame" : `${values.length} frames`;
    return refuse("too-few-frames", `${counted} so far; a capability needs at least ${FEWEST_FRAMES}.`);
  }
  if (stability.verdict === "not-judged") {
    return refuse("stability-not-judged", `Stability has not been judged${because}.`);
  }
  if (isConstant(withoutNoise(values)))
    return refuse("no-variation", "All values are equal: the gauge does not resolve the variation.");
  return null;
}

function provisional(input: CapabilityInput): CapabilityAnswer {
  const model = normalModel(input.values);
  return assemble(input, {
    status: "provisional",
    model,
    chosenBy: "default",
    candidates: [],
    andersonDarlingP: normalityP(input),
    warnings: ["provisional-normal-only"],
  });
}

function established(input: CapabilityInput): CapabilityAnswer {
  const families = familiesOf(input);
  const choice = chooseDistribution(input.values, families, input.seed ?? 1, resolutionOf(input));
  return assemble(input, {
    status: "established",
    model: choice.model,
    chosenBy: families.length === 1 ? "user" : "data",
    candidates: choice.candidates,
    andersonDarlingP: choice.andersonDarling.p,
    warnings: choice.warnings,
  });
}

interface Basis {
  readonly status: "provisional" | "established";
  readonly model: DistributionModel;
  readonly chosenBy: "default" | "user" | "data";
  readonly candidates: readonly DistributionCandidate[];
  readonly andersonDarlingP: number;
  readonly warnings: readonly CapabilityWarning[];
}

function assemble(input: CapabilityInput, basis: Basis): CapabilityAnswer {
  const { values } = input;
  const limits = judgedLimits(input);
  const confidence = input.confidence ?? 0.95;
  const seed = input.seed ?? 1;
  const n = values.length;
  const mean = sampleMean(values);
  const sd = sampleSd(values);
  const tailProbability = input.tail === "rounded" ? ROUNDED_TAIL : EXACT_TAIL;
  const overall: IndexBasis = { n, degreesOfFreedom: n - 1, confidence };
  const warnings: CapabilityWarning[] = [...basis.warnings, ...seriesWarnings(input, basis)];
  const indices: CapabilityIndex[] = [];
  let nonconforming = nonconformingPpm(basis.model, limits);
  let within: WithinSigma | null = null;
  // A zero-bound characteristic whose normal distribution came from the data carries the doubt about that choice.
  const chosenAmongOthers = basis.chosenBy === "data" && input.kind === "zero-bound";
  if (basis.model.family === "normal" && !chosenAmongOthers) {
    within = input.within ?? movingRangeSigma(values);
    if (within.sigma > 0) {
      const short: IndexBasis = { n, degreesOfFreedom: within.degreesOfFreedom, confidence };
      indices.push(...normalIndices({ mean, sigma: within.sigma, basis: short, spread: "within" }, limits));
    }
    indices.push(...normalIndices({ mean, sigma: sd, basis: overall, spread: "overall" }, limits));
    indices.push(...targetIndices({ mean, sigma: sd, basis: overall }, limits));
    nonconforming = { ...nonconforming, interval: normalPpmInterval({ n, mean, sd }, limits, { confidence, seed }) };
  } else {
    const point = quantileIndices(referenceQuantiles(basis.model, tailProbability), limits);
    const bootstrap = bootstrapCapability({
      values,
      limits,
      families: basis.model.family === "johnson" ? ["johnson"] : familiesOf(input),
      tail: tailProbability,
      confidence,
      seed,
      resamples: input.resamples ?? 999,
      ...resolutionOf(input),
    });
    if (bootstrap.failed > 0) warnings.push("bootstrap-incomplete");
    indices.push(...point.map((index) => ({ ...index, interval: bootstrap.intervals[index.name] ?? null })));
    nonconforming = { ...nonconforming, interval: bootstrap.ppm };
  }
  const value: ProcessCapability = {
    status: basis.status,
    frames: n,
    mean,
    sd,
    within,
    distribution: {
      model: basis.model,
      chosenBy: basis.chosenBy,
      andersonDarlingP: basis.andersonDarlingP,
      candidates: basis.candidates,
    },
    tailProbability,
    indices,
    nonconforming,
    observedOutside: values.filter((v) => (limits.lower ?? -Infinity) > v || v > (limits.upper ?? Infinity)).length,
    framesToProve: proof(indices, input.provenIndex ?? 4 / 3, n),
    warnings,
  };
  return { ok: true, value, warnings };
}

/** A zero-bound characteristic has no lower specification at or below its natural boundary. */
function judgedLimits({ kind, limits }: CapabilityInput): CapabilityLimits {
  return kind === "zero-bound" && limits.lower !== null && limits.lower <= 0 && limits.upper !== null
    ? { ...limits, lower: null }
    : limits;
}

function familiesOf({ family, kind, values }: CapabilityInput): readonly FittedFamily[] {
  if (family !== undefined && family !== null) return [family];
  if (kind === "size") return SIZE_FAMILIES;
  return values.every((value) => value >= 0) ? ZERO_BOUND_FAMILIES : ["normal"];
}

function resolutionOf({ resolution }: CapabilityInput): ValueGridOptions {
  return resolution === undefined ? {} : { resolution };
}

function normalityP(input: CapabilityInput): number {
  const sample = roundedSampleOf(input.values, resolutionOf(input));
  if (sample === null) return andersonDarlingNormal(input.values).p;
  return andersonDarlingRounded(sample, normalModel(input.values), { seed: input.seed ?? 1 }).p;
}

function seriesWarnings(input: CapabilityInput, basis: Basis): readonly CapabilityWarning[] {
  const { values, kind } = input;
  const warnings: CapabilityWarning[] = [];
  const step = roundedSampleOf(values, resolutionOf(input))?.grid.step ?? 0;
  if (step > sampleSd(values)) warnings.push("coarse-resolution");
  if (basis.model.family === "normal" && basis.andersonDarlingP < 0.05) warnings.push("not-normal");
  // two standard errors of the lag-1 coefficient of independent values
  if (Math.abs(autocorrelation(values)) > 2 / Math.sqrt(values.length)) warnings.push("autocorrelated");
  if (kind === "zero-bound" && values.some((value) => value < 0)) warnings.push("values-below-natural-limit");
  return warnings;
}

function proof(indices: readonly CapabilityIndex[], target: number, n: number): ProcessCapability["framesToProve"] {
  const index = indices.find(({ name }) => name === "Ppk");
  if (index === undefined) return { target, frames: null, missing: null, reason: "No index to prove." };
  const needed = framesToProve(index.value, target);
  return needed.ok
    ? { target, frames: needed.frames, missing: Math.max(0, needed.frames - n), reason: null }
    : { target, frames: null, missing: null, reason: needed.reason };
}

function normalModel(values: readonly number[]): DistributionModel {
  return { family: "normal", mean: sampleMean(values), sd: sampleSd(values) };
}
