import { CoreError } from "../errors";
import { type AndersonDarling, andersonDarlingFitted, andersonDarlingRounded } from "../distributions/anderson-darling";
import type { DistributionModel } from "../distributions/distribution-model";
import { type DistributionFit, type FittedFamily, fitDistribution } from "../distributions/fit-distribution";
import { fitRounded } from "../distributions/fit-rounded";
import {
  resampled,
  roundedSample,
  roundedSampleOf,
  type RoundedSample,
  type ValueGrid,
  type ValueGridOptions,
} from "../distributions/rounded-sample";

/** One family that was tried. */
export interface DistributionCandidate {
  readonly family: FittedFamily;
  /** null: the values lie outside the support. */
  readonly model: DistributionModel | null;
  readonly logLikelihood: number | null;
  /** Akaike's criterion corrected for the sample size; smaller is better. */
  readonly aicc: number | null;
  readonly andersonDarling: AndersonDarling | null;
  readonly reason: "chosen" | "less-likely" | "cannot-be-told-apart" | "rejected-by-fit" | "outside-support";
}

/** The distribution chosen for a sample, with everything that was tried. */
export interface DistributionChoice {
  readonly family: FittedFamily;
  readonly model: DistributionModel;
  readonly andersonDarling: AndersonDarling;
  readonly candidates: readonly DistributionCandidate[];
  readonly warnings: readonly ("flexible-distribution" | "no-distribution-fits")[];
}

/** Candidates of a two-sided size or width: no natural zero. */
export const SIZE_FAMILIES: readonly FittedFamily[] = ["normal", "lognormal", "weibull"];
/** Candidates of a form or position deviation: natural zero below; one parameter first, normal last. */
export const ZERO_BOUND_FAMILIES: readonly FittedFamily[] = [
  "rayleigh",
  "rice",
  "folded-normal",
  "weibull",
  "lognormal",
  "normal",
];

/** Difference of the criterion within which two families cannot be told apart by this sample. */
const INDISTINGUISHABLE = 2;
/** A family whose Anderson-Darling p is smaller is given up for the next one. */
const REJECTED = 0.01;

/**
 * Chooses a distribution for a sample by likelihood and the Anderson-Darling test, with reasons.
 * Method: smallest corrected Akaike criterion, the earlier family of the list in a tie; a choice with Anderson-Darling
 * p < 0.01 gives way to the best family that passes; if none of several families passes, a Johnson curve is tried, and if
 * that does not pass either the most likely family stays, each with a warning. Keeping the
 * simplest family within 2 of the best instead let the bootstrap intervals cover 88 % of a Weibull process where this rule covers 92 %.
 * Values that are known to a resolution only, and zeros of a gauge that showed nothing, enter likelihood and test as the
 * intervals that they stand for (valueGrid).
 * @param x - number[n], n >= 8, all finite, not all equal
 * @param families - candidates, the preferred first
 * @param seed - integer, for simulated p values
 * @param options - resolution where it is known; found from the values otherwise
 * @returns the choice
 * @throws CoreError too-few-values, not-finite, degenerate, or invalid-argument if no family has the values in its support
 * Source: Burnham & Anderson 2002, Model Selection and Multimodel Inference, 2nd ed., sections 2.4 and 2.6
 */
export function chooseDistribution(
  x: readonly number[],
  families: readonly FittedFamily[],
  seed: number,
  options: ValueGridOptions = {},
): DistributionChoice {
  const sample = roundedSampleOf(x, options);
  const fitted = (family: FittedFamily) => (sample === null ? fitDistribution(family, x) : fitRounded(family, sample));
  const simple = families.map((family) => ({ family, fit: fitted(family) }));
  const order = rankFits(simple, x.length);
  const first = order[0];
  if (first === undefined) {
    throw new CoreError(
      "invalid-argument",
      "chooseDistribution: families must include one with the values in its support",
      {
        families,
      },
    );
  }
  const tests = new Map<FittedFamily, AndersonDarling>();
  const test = (family: FittedFamily, fit: DistributionFit | null) => {
    if (fit !== null) {
      const tested =
        sample === null
          ? andersonDarlingFitted(x, fit.model, { seed })
          : andersonDarlingRounded(sample, fit.model, { seed });
      tests.set(family, tested);
    }
    return (tests.get(family)?.p ?? 0) >= REJECTED;
  };
  for (const { family, fit } of simple) test(family, fit);
  const passing = order.find(({ family }) => (tests.get(family)?.p ?? 0) >= REJECTED);
  const flexible = passing === undefined && families.length > 1 ? flexibleFit(fitted("johnson"), x.length) : null;
  const bends = flexible !== null && test(flexible.family, flexible.fit);
  const fits = flexible === null ? simple : [...simple, flexible];
  const chosen = passing ?? (bends ? flexible : first);
  const candidates = fits.map(({ family, fit }): DistributionCandidate => {
    const tested = tests.get(family) ?? null;
    if (fit === null || tested === null) {
      return { family, model: null, logLikelihood: null, aicc: null, andersonDarling: null, reason: "outside-support" };
    }
    const aicc = correctedAkaike(fit, x.length);
    const reason =
      family === chosen.family
        ? "chosen"
        : tested.p < REJECTED
          ? "rejected-by-fit"
          : Math.abs(aicc - chosen.aicc) <= INDISTINGUISHABLE
            ? "cannot-be-told-apart"
            : "less-likely";
    return { family, model: fit.model, logLikelihood: fit.logLikelihood, aicc, andersonDarling: tested, reason };
  });
  const andersonDarling = tests.get(chosen.family);
  if (andersonDarling === undefined)
    throw new CoreError("invalid-argument", "chooseDistribution: no family was tested");
  return {
    family: chosen.family,
    model: chosen.fit.model,
    andersonDarling,
    candidates,
    warnings: passing !== undefined ? [] : [bends ? "flexible-distribution" : "no-distribution-fits"],
  };
}

/** The Johnson curve as the last resort; null where the values give none. */
function flexibleFit(fit: DistributionFit | null, n: number): RankedFit | null {
  return fit === null ? null : { family: "johnson", fit, aicc: correctedAkaike(fit, n) };
}

/**
 * The likelihood part of the choice alone.
 * @param x - number[n], n >= 3, all finite, not all equal
 * @param families - candidates, the preferred first
 * @param options - resolution where it is known; found from the values otherwise
 * @returns model of the preferred family, or null if no family has the values in its support
 * @throws CoreError too-few-values, not-finite, degenerate
 */
export function mostLikelyModel(
  x: readonly number[],
  families: readonly FittedFamily[],
  options: ValueGridOptions = {},
): DistributionModel | null {
  const sample = roundedSampleOf(x, options);
  const fits = sample === null ? exactFits(x, families) : roundedFits(sample, families);
  return rankFits(fits, x.length)[0]?.fit.model ?? null;
}

/**
 * The same for many samples that are known as finely as a first one: what a bootstrap repeats.
 * @param grid - how finely values are known; null: exactly
 * @param families - candidates, the preferred first
 * @param first - number[n], the sample that the others are drawn from, n >= 3, without noise
 * @returns function of a sample (number[n] of the values of `first`, not all equal): model, or null if no family has the values in its support
 */
export function repeatedChoice(
  grid: ValueGrid | null,
  families: readonly FittedFamily[],
  first: readonly number[],
): (x: readonly number[]) => DistributionModel | null {
  if (grid === null) return (x) => rankFits(exactFits(x, families), x.length)[0]?.fit.model ?? null;
  const whole = roundedSample(first, grid);
  const starts = new Map(roundedFits(whole, families).map(({ family, fit }) => [family, fit?.model ?? null]));
  return (x) => rankFits(roundedFits(resampled(whole, x), families, starts), x.length)[0]?.fit.model ?? null;
}

type CandidateFit = { readonly family: FittedFamily; readonly fit: DistributionFit | null };

function exactFits(x: readonly number[], families: readonly FittedFamily[]): readonly CandidateFit[] {
  return families.map((family) => ({ family, fit: fitDistribution(family, x) }));
}

function roundedFits(
  sample: RoundedSample,
  families: readonly FittedFamily[],
  starts: ReadonlyMap<FittedFamily, DistributionModel | null> = new Map(),
): readonly CandidateFit[] {
  return families.map((family) => {
    const start = starts.get(family) ?? null;
    return { family, fit: fitRounded(family, sample, family === "johnson" ? null : start) };
  });
}

interface RankedFit {
  readonly family: FittedFamily;
  readonly fit: DistributionFit;
  readonly aicc: number;
}

/** Best criterion first; the sort is stable, so the list's order decides a tie. */
function rankFits(fits: readonly CandidateFit[], n: number): readonly RankedFit[] {
  const ranked: RankedFit[] = [];
  for (const { family, fit } of fits) {
    if (fit !== null && Number.isFinite(fit.logLikelihood)) ranked.push({ family, fit, aicc: correctedAkaike(fit, n) });
  }
  return ranked.sort((a, b) => a.aicc - b.aicc);
}

function correctedAkaike({ logLikelihood, parameters: k }: DistributionFit, n: number): number {
  return 2 * k - 2 * logLikelihood + (2 * k * (k + 1)) / Math.max(1, n - k - 1);
}
