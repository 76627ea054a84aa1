import { offsetCapability, type OffsetVector } from "../core/capability/offset-capability";
import { bootstrapCapability } from "../core/capability/bootstrap-capability";
import { EXACT_TAIL, quantileIndices, referenceQuantiles } from "../core/capability/capability-indices";
import type { CapabilityLimits } from "../core/capability/capability-limits";
import { chooseDistribution, mostLikelyModel, SIZE_FAMILIES } from "../core/capability/choose-distribution";
import type { CapabilityInterval } from "../core/capability/index-intervals";
import { nonconformingPpm } from "../core/capability/nonconforming-fraction";
import {
  FRAMES_FOR_CHOICE,
  processCapability,
  refuseCapability,
  type Stability,
} from "../core/capability/process-capability";
import type { DistributionModel } from "../core/distributions/distribution-model";
import type { FittedFamily } from "../core/distributions/fit-distribution";
import { poissonSf } from "../core/distributions/poisson";
import type { CharacteristicName } from "../core/metrology/shell-drawing";
import { featureWithoutNoise } from "./feature-noise";

/** Capability looks at the last frames of a stream, as the bound that holds unmeasured frames does. */
export const CAPABILITY_FRAMES = 300;

/**
 * Frames between false signals of the limit test, at the unlucky end (5 %) for limits that rest on 100 frames: nominal 370
 * becomes 95 (seeded simulation of estimated limits).
 */
const SHORT_RUN_LENGTH = 95;
/** A stream is taken for unstable when chance gives so many signals less often than this. */
const CHANCE = 0.01;

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
 * Stability by the frames beyond the control limits: limits give false signals too, and estimated limits more of them, so a
 * stream is unstable when chance does not explain their number.
 *
 * @param beyond - frames beyond the control limits
 */
export function stabilityOf(beyond: number, frames: number): Stability {
  const expected = frames / SHORT_RUN_LENGTH;
  if (beyond === 0 || poissonSf(beyond - 1, expected) >= CHANCE) return { verdict: "stable" };
  const because = `${beyond} of the last ${frames} frames are beyond the control limits, chance explains ${Math.ceil(expected)}`;
  return { verdict: "unstable", because };
}

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
  return worst ?? { ok: false, code: "no-limits", reason: "The drawing gives no limit." };
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
  | { readonly ok: false; readonly because: string };

const unknown = (because: string): StreamBound => ({ ok: false, because });
const tooFew = (frames: number): StreamBound => unknown(`${frames} of ${FRAMES_FOR_CHOICE} frames`);

/**
 * Upper 95 % bound of the nonconforming fraction of one stream over its last 300 frames: the upper ends of the 95 % intervals of
 * both limits, added, which is at least that sure. It is known from 100 frames on, where the stream is stable and one of the
 * distributions that its characteristic allows passes the Anderson-Darling test.
 *
 * @param resamples - of the bootstrap, as for streamCapability
 * @returns the bound as a fraction, or why it is not known: a clause without a full stop
 */
export function streamBound(input: CapabilityValues, resamples = 99): StreamBound {
  const sides = (["lower", "upper"] as const).filter((limit) => input[limit] !== null);
  if (sides.length === 0) return unknown("the drawing gives no limit");
  const valuesOf = (limit: "lower" | "upper") =>
    (limit === "lower" ? input.againstLower : input.againstUpper).slice(-CAPABILITY_FRAMES).map(featureWithoutNoise);
  const frames = Math.min(...sides.map((limit) => valuesOf(limit).length));
  if (frames < FRAMES_FOR_CHOICE) return tooFew(frames);
  let fraction = 0;
  for (const limit of sides) {
    const answer = oneLimit(input, limit, resamples);
    if (!answer.ok) return unknown(asClause(answer.reason));
    const fit = chooseDistribution(valuesOf(limit), FAMILIES[input.characteristic], 1);
    if (answer.ppmInterval === null || fit.warnings.length > 0)
      return unknown(`no distribution fits the last ${frames} frames`);
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
  if (!answer.ok) return unknown(asClause(answer.reason));
  if (answer.ppmInterval === null) return unknown("its interval cannot be computed");
  return { ok: true, fraction: answer.ppmInterval.upper / 1e6, frames };
}

function asClause(sentence: string): string {
  return sentence.slice(0, 1).toLowerCase() + sentence.slice(1).replace(/\.$/, "");
}
