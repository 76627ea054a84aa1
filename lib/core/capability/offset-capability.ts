import { CoreError } from "../errors";
import { type BivariateNormal, fractionOutsideCircle } from "../distributions/bivariate-normal";
import { normalUpperQuantile } from "../distributions/normal";
import { sampleMean } from "../numerics/descriptive-statistics";
import { createSeededGenerator } from "../numerics/seeded-generator";
import type { CapabilityInterval } from "./index-intervals";
import { type CapabilityRefusal, FEWEST_FRAMES, FRAMES_FOR_CHOICE, type Stability } from "./process-capability";

/** Offset of one frame: components towards 12 and 3 o'clock, same unit. */
export type OffsetVector = readonly [twelve: number, three: number];

/** Offsets of a stream against a circular zone about the true axis. */
export interface OffsetCapabilityInput {
  /** In order of time. */
  readonly offsets: readonly OffsetVector[];
  /** Largest permitted length of the offset (half of a coaxiality zone), > 0, or null. */
  readonly largestOffset: number | null;
  readonly stability: Stability;
  readonly confidence?: number;
  readonly seed?: number;
  readonly resamples?: number;
}

/** Fraction outside the zone and the one-sided index that a normal process with that fraction has. */
export interface OffsetCapability {
  readonly status: "provisional" | "established";
  readonly frames: number;
  readonly distribution: BivariateNormal;
  readonly ppm: number;
  readonly ppmInterval: CapabilityInterval;
  /** z / 3 with P(Z > z) = fraction outside; null below the smallest representable fraction. */
  readonly equivalentPpk: number | null;
  readonly equivalentInterval: CapabilityInterval | null;
  readonly observedOutside: number;
}

export type OffsetCapabilityAnswer =
  | { readonly ok: true; readonly value: OffsetCapability }
  | { readonly ok: false; readonly code: CapabilityRefusal; readonly reason: string };

/**
 * Capability of the alignment offset: the exact fraction of the fitted bivariate normal outside the circular zone, never an
 * index of the offset's length.
 * Formula: equivalent Ppk = z/3 with P(Z > z) = fraction outside
 * @param input - offset vectors, zone radius, stability, options (confidence 0.95, seed 1, 999 resamples)
 * @returns a reason, or the fraction with its interval
 * @throws CoreError not-finite, out-of-range for the radius or fewer than 99 resamples
 * Method: mean and covariance (n - 1); interval by seeded draws of the normal-theory pivots: covariance from a Wishart
 * distribution (Bartlett), mean given the covariance.
 * Source: Bartlett 1933, Proc. R. Soc. Edinburgh 53, 260-283; Weerahandi 1993, JASA 88, 899-905
 */
export function offsetCapability(input: OffsetCapabilityInput): OffsetCapabilityAnswer {
  const { offsets, largestOffset, stability, confidence = 0.95, seed = 1, resamples = 999 } = input;
  const refusal = refuse(input);
  if (refusal !== null) return refusal;
  if (largestOffset === null || !(confidence > 0 && confidence < 1) || !Number.isInteger(resamples) || resamples < 99) {
    throw new CoreError(
      "out-of-range",
      "offsetCapability: confidence must be in (0, 1) and resamples an integer >= 99",
      {
        confidence,
        resamples,
        stability: stability.verdict,
      },
    );
  }
  const n = offsets.length;
  const distribution = fitBivariateNormal(offsets);
  const fraction = fractionOutsideCircle(distribution, largestOffset);
  const draws = drawFractions(distribution, { n, radius: largestOffset, seed, resamples });
  const tail = (1 - confidence) / 2;
  const ends = [
    draws[Math.floor(tail * (draws.length + 1)) - 1] ?? 0,
    draws[Math.ceil((1 - tail) * (draws.length + 1)) - 1] ?? 1,
  ] as const;
  const [best, worst] = [toIndex(ends[0]), toIndex(ends[1])];
  return {
    ok: true,
    value: {
      status: n < FRAMES_FOR_CHOICE ? "provisional" : "established",
      frames: n,
      distribution,
      ppm: 1e6 * fraction,
      ppmInterval: { lower: 1e6 * ends[0], upper: 1e6 * ends[1], confidence, method: "pivotal" },
      equivalentPpk: toIndex(fraction),
      equivalentInterval:
        best === null || worst === null ? null : { lower: worst, upper: best, confidence, method: "pivotal" },
      observedOutside: offsets.filter(([a, b]) => Math.hypot(a, b) > largestOffset).length,
    },
  };
}

/**
 * Mean and covariance (n - 1) of offset vectors.
 * @param offsets - n >= 3 vectors, finite
 * @returns bivariate normal with these moments
 * @throws CoreError too-few-values, not-finite
 */
export function fitBivariateNormal(offsets: readonly OffsetVector[]): BivariateNormal {
  if (offsets.length < 3) {
    throw new CoreError(
      "too-few-values",
      `fitBivariateNormal: offsets must have at least 3 vectors; got ${offsets.length}`,
    );
  }
  const n = offsets.length;
  const m1 = sampleMean(offsets.map(([a]) => a));
  const m2 = sampleMean(offsets.map(([, b]) => b));
  let aa = 0;
  let ab = 0;
  let bb = 0;
  for (const [a, b] of offsets) {
    aa += (a - m1) ** 2;
    ab += (a - m1) * (b - m2);
    bb += (b - m2) ** 2;
  }
  return { mean: [m1, m2], covariance: [aa / (n - 1), ab / (n - 1), bb / (n - 1)] };
}

function refuse({
  offsets,
  largestOffset,
  stability,
}: OffsetCapabilityInput): Extract<OffsetCapabilityAnswer, { ok: false }> | null {
  for (const [a, b] of offsets) {
    if (!Number.isFinite(a) || !Number.isFinite(b)) {
      throw new CoreError("not-finite", `offsetCapability: offsets must be finite; got ${a}, ${b}`);
    }
  }
  if (largestOffset !== null && !(largestOffset > 0 && Number.isFinite(largestOffset))) {
    throw new CoreError("out-of-range", `offsetCapability: largestOffset must be > 0; got ${largestOffset}`);
  }
  const no = (code: CapabilityRefusal, reason: string) => ({ ok: false, code, reason }) as const;
  if (largestOffset === null) return no("no-limits", "The drawing gives no zone for the offset.");
  const because = stability.verdict !== "stable" && stability.because ? `: ${stability.because}` : "";
  if (stability.verdict === "unstable") return no("unstable", `The stream is not stable${because}.`);
  if (offsets.length < FEWEST_FRAMES) {
    return no("too-few-frames", `${offsets.length} frames so far; a capability needs at least ${FEWEST_FRAMES}.`);
  }
  if (stability.verdict === "not-judged") return no("stability-not-judged", `Stability has not been judged${because}.`);
  const first = offsets[0];
  if (first !== undefined && offsets.every(([a, b]) => a === first[0] && b === first[1])) {
    return no("no-variation", "All offsets are equal: the gauge does not resolve the variation.");
  }
  return null;
}

/** Ascending fractions outside for draws of mean and covariance that fit the sample. */
function drawFractions(
  { mean, covariance: [aa, ab, bb] }: BivariateNormal,
  {
    n,
    radius,
    seed,
    resamples,
  }: { readonly n: number; readonly radius: number; readonly seed: number; readonly resamples: number },
): Float64Array {
  const generator = createSeededGenerator(seed);
  const nu = n - 1;
  // Lower Cholesky factor of the sample covariance; a singular one keeps its zero.
  const l11 = Math.sqrt(aa);
  const l21 = l11 > 0 ? ab / l11 : 0;
  const l22 = Math.sqrt(Math.max(0, bb - l21 * l21));
  const fractions = new Float64Array(resamples);
  for (let i = 0; i < resamples; i++) {
    // Bartlett factor T of a standard Wishart; covariance draw = nu L T^-T T^-1 L', factor F = sqrt(nu) L T^-T.
    const t11 = Math.sqrt(chiSquareOf(nu, generator.normal));
    const t22 = Math.sqrt(chiSquareOf(nu - 1, generator.normal));
    const t21 = generator.normal();
    const root = Math.sqrt(nu);
    const u11 = root / t11;
    const u12 = (-root * t21) / (t11 * t22);
    const u22 = root / t22;
    const f: readonly [number, number, number, number] = [l11 * u11, l11 * u12, l21 * u11, l21 * u12 + l22 * u22];
    const z1 = generator.normal() / Math.sqrt(n);
    const z2 = generator.normal() / Math.sqrt(n);
    fractions[i] = fractionOutsideCircle(
      {
        mean: [mean[0] + f[0] * z1 + f[1] * z2, mean[1] + f[2] * z1 + f[3] * z2],
        covariance: [f[0] * f[0] + f[1] * f[1], f[0] * f[2] + f[1] * f[3], f[2] * f[2] + f[3] * f[3]],
      },
      radius,
    );
  }
  return fractions.sort();
}

/** Chi-square variate as a sum of squares: exact for any integer df. */
function chiSquareOf(df: number, normal: () => number): number {
  let sum = 0;
  for (let i = 0; i < df; i++) sum += normal() ** 2;
  return sum;
}

function toIndex(fraction: number): number | null {
  return fraction > 0 && fraction < 1 ? normalUpperQuantile(fraction) / 3 : null;
}
