import { offsetCapability, type OffsetVector } from "../core/capability/offset-capability";
import { bootstrapCapability } from "../core/capability/bootstrap-capability";
import { EXACT_TAIL, quantileIndices, referenceQuantiles } from "../core/capability/capability-indices";
import type { CapabilityLimits } from "../core/capability/capability-limits";
import { chooseDistribution, mostLikelyModel, SIZE_FAMILIES } from "../core/capability/choose-distribution";
import type { CapabilityInterval } from "../core/capability/index-intervals";
import { nonconformingPpm } from "../core/capability/nonconforming-fraction";
import {
  FRAMES_FOR_CHOICE,
  NO_LIMITS,
  processCapability,
  refuseCapability,
  type Stability,
} from "../core/capability/process-capability";
import type { DistributionModel } from "../core/distributions/distribution-model";
import type { FittedFamily } from "../core/distributions/fit-distribution";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import { featureWithoutNoise } from "./feature-noise";

/** Capability looks at the last frames of a stream, as the bound that holds unmeasured frames does. */
export const CAPABILITY_FRAMES = 300;

/** Capability of one characteristic of one stream, or why there is none. Fractions in parts per million. */
export type StreamCapability =
  | {
      readonly ok: true;
      readonly status: "provisional" | "established";
      readonly ppk: number | null;
      readonly interval: CapabilityInterval | null;
      readonly ppm: number;
      readonly ppmInterval: CapabilityInterval | null;
      /** The limit that decides; null for the offset's circle. */
      readonly limit: "lower" | "upper" | null;
      readonly distribution: string;
      readonly frames: number;
      readonly warnings: readonly string[];
    }
  | { readonly ok: false; readonly code: string; readonly reason: string };

/**
 * Values that are held against each limit, in the order of time: of a bore the smallest of each seat against the lower one and
 * the largest against the upper one, since every two-point size is judged.
 */
export type CapabilityValues = {
  readonly lower: number | null;
  readonly upper: number | null;
  readonly againstLower: readonly number[];
  readonly againstUpper: readonly number[];
  readonly characteristic: CharacteristicName;
  readonly stability: Stability;
};

/** Index and fraction of values that are not normal: quantiles of the likeliest distribution, intervals by bootstrap. */
function quantileCapability(
  values: readonly number[],
  limits: CapabilityLimits,
  model: DistributionModel,
  families: readonly FittedFamily[],
  resamples: number,
): Pick<Extract<StreamCapability, { ok: true }>, "ppk" | "interval" | "ppm" | "ppmInterval"> {
  const indices = quantileIndices(referenceQuantiles(model, EXACT_TAIL), limits);
  const bootstrap = bootstrapCapability({
    values,
    limits,
    families,
    tail: EXACT_TAIL,
    confidence: 0.95,
    seed: 1,
    resamples,
  });
  return {
    ppk: indices.find(({ name }) => name === "Ppk")?.value ?? null,
    interval: bootstrap.intervals.Ppk ?? null,
    ppm: nonconformingPpm(model, limits).total,
    ppmInterval: bootstrap.ppm,
  };
}

/**
 * Distributions that a characteristic can have by the way it comes about, simplest first: sizes; the length of a vector in
 * the plane (tilt, run-out); the size of a signed number (taper); a largest difference (ovality).
 */
const FAMILIES: Readonly<Record<CharacteristicName, readonly FittedFamily[]>> = {
  bore: SIZE_FAMILIES,
  width: SIZE_FAMILIES,
  tilt: ["rayleigh", "rice", "lognormal", "weibull"],
  "face run-out": ["rayleigh", "rice", "lognormal", "weibull"],
  coaxiality: ["rayleigh", "rice", "lognormal", "weibull"],
  taper: ["folded-normal", "lognormal", "weibull"],
  ovality: ["normal", "lognormal", "weibull"],
};

function normalCapability(values: readonly number[], limits: CapabilityLimits, stability: Stability) {
  // The kind is "size": with the family given it only keeps a lower limit that the caller did not set.
  return processCapability({ values, limits, stability, kind: "size", family: "normal" });
}

function oneLimit(input: CapabilityValues, limit: "lower" | "upper", resamples: number): StreamCapability {
  const { characteristic, stability } = input;
  const values = (limit === "lower" ? input.againstLower : input.againstUpper)
    .slice(-CAPABILITY_FRAMES)
    .map(featureWithoutNoise);
  const limits = limit === "lower" ? { lower: input.lower, upper: null } : { lower: null, upper: input.upper };
  const refusal = refuseCapability({ values, limits, stability });
  if (refusal) return refusal;
  const families = FAMILIES[characteristic];
  const model = values.length < FRAMES_FOR_CHOICE ? null : mostLikelyModel(values, families);
  const frames = values.length;
  if (model !== null && model.family !== "normal") {
    const found = quantileCapability(values, limits, model, families, resamples);
    return { ok: true, status: "established", ...found, limit, distribution: model.family, frames, warnings: [] };
  }
  const answer = normalCapability(values, limits, stability);
  if (!answer.ok) return answer;
  const { indices, nonconforming, warnings } = answer.value;
  const ppk = indices.find(({ name }) => name === "Ppk");
  const status = frames < FRAMES_FOR_CHOICE ? "provisional" : "established";
  return {
    ok: true,
    status,
    ppk: ppk?.value ?? null,
    interval: ppk?.interval ?? null,
    ppm: nonconforming.total,
    ppmInterval: nonconforming.interval,
    limit,
    distribution: "normal",
    frames,
    warnings,
  };
}

/**
 * Capability of one stream against the limits of its characteristic over its last 300 frames: stability first, then each
 * limit by itself; the worse one is given. From 100 frames on the distribution is the likeliest of those that the
 * characteristic allows (corrected Akaike criterion); fewer frames are taken for normal and called provisional.
 *
 * @param resamples - of the bootstrap that gives intervals to distributions other than the normal; it repeats the choice
 * @returns the capability with its interval, or a refusal with its reason
 */
export function streamCapability(input: CapabilityValues, resamples = 99): StreamCapability {
  const sides = (["lower", "upper"] as const)
    .filter((limit) => input[limit] !== null)
    .map((limit) => oneLimit(input, limit, resamples));
  const refused = sides.find((answer) => !answer.ok);
  if (refused) return refused;
  const index = (answer: StreamCapability) => (answer.ok ? (answer.ppk ?? Infinity) : Infinity);
  const worst = sides.sort((a, b) => index(a) - index(b))[0];
  return worst ?? NO_LIMITS;
}

/**
 * Capability of the alignment offset over the last 300 frames: the exact fraction outside the circle that the coaxiality
 * zone allows.
 *
 * @param offsets - in µm towards 12 and towards 3, in the order of time
 * @param zoneUm - the limit of coaxiality, a diameter
 */
export function offsetStreamCapability(
  offsets: readonly OffsetVector[],
  zoneUm: number | null,
  stability: Stability,
  resamples = 99,
): StreamCapability {
  const answer = offsetCapability({
    offsets: offsets.slice(-CAPABILITY_FRAMES),
    largestOffset: zoneUm === null ? null : zoneUm / 2,
    stability,
    resamples,
  });
  if (!answer.ok) return answer;
  const { status, frames, ppm, ppmInterval, equivalentPpk, equivalentInterval } = answer.value;
  return {
    ok: true,
    status,
    ppk: equivalentPpk,
    interval: equivalentInterval,
    ppm,
    ppmInterval,
    limit: null,
    distribution: "bivariate normal",
    frames,
    warnings: [],
  };
}

/** Most that a stream may have nonconforming by its last frames, or why nobody can say. */
export type StreamBound =
  | { readonly ok: true; readonly fraction: number; readonly frames: number }
  | { readonly ok: false; readonly because: UnknownBound };

/** Why a bound is not known; `reason` as the capability is refused. */
export type UnknownBound =
  | { readonly code: "no-limit" | "no-interval" | "no-frame-measured" | "not-computable" }
  | { readonly code: "too-few-frames"; readonly frames: number; readonly needed: number }
  | { readonly code: "no-fit"; readonly frames: number }
  | { readonly code: "refused"; readonly reason: string };

const unknown = (because: UnknownBound): StreamBound => ({ ok: false, because });
const tooFew = (frames: number): StreamBound => unknown({ code: "too-few-frames", frames, needed: FRAMES_FOR_CHOICE });

/**
 * Upper 95 % bound of the nonconforming fraction of one stream over its last 300 frames: the upper ends of the 95 % intervals of
 * both limits, added, which is at least that sure. It is known from 100 frames on, where the stream is stable and one of the
 * distributions that its characteristic allows passes the Anderson-Darling test.
 *
 * @param resamples - of the bootstrap, as for streamCapability
 * @returns the bound as a fraction, or why it is not known
 */
export function streamBound(input: CapabilityValues, resamples = 99): StreamBound {
  const sides = (["lower", "upper"] as const).filter((limit) => input[limit] !== null);
  if (sides.length === 0) return unknown({ code: "no-limit" });
  const valuesOf = (limit: "lower" | "upper") =>
    (limit === "lower" ? input.againstLower : input.againstUpper).slice(-CAPABILITY_FRAMES).map(featureWithoutNoise);
  const frames = Math.min(...sides.map((limit) => valuesOf(limit).length));
  if (frames < FRAMES_FOR_CHOICE) return tooFew(frames);
  let fraction = 0;
  for (const limit of sides) {
    const answer = oneLimit(input, limit, resamples);
    if (!answer.ok) return unknown({ code: "refused", reason: answer.reason });
    const fit = chooseDistribution(valuesOf(limit), FAMILIES[input.characteristic], 1);
    if (answer.ppmInterval === null || fit.warnings.length > 0) return unknown({ code: "no-fit", frames });
    fraction += answer.ppmInterval.upper / 1e6;
  }
  return { ok: true, fraction: Math.min(1, fraction), frames };
}

/**
 * The same for the alignment offset, whose fraction is that outside of the circle.
 *
 * @param offsets - in µm towards 12 and towards 3, in the order of time
 * @param zoneUm - the limit of coaxiality, a diameter
 */
export function offsetStreamBound(
  offsets: readonly OffsetVector[],
  zoneUm: number | null,
  stability: Stability,
): StreamBound {
  const frames = Math.min(offsets.length, CAPABILITY_FRAMES);
  if (frames < FRAMES_FOR_CHOICE) return tooFew(frames);
  const answer = offsetStreamCapability(offsets, zoneUm, stability, 999);
  if (!answer.ok) return unknown({ code: "refused", reason: answer.reason });
  if (answer.ppmInterval === null) return unknown({ code: "no-interval" });
  return { ok: true, fraction: answer.ppmInterval.upper / 1e6, frames };
}
