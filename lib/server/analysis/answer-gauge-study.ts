import "server-only";
import { CORE_VERSION } from "@/lib/core/version";
import { averageAndRange } from "@/lib/core/gauge-studies/average-and-range";
import { crossedAnova, type CrossedAnova, type FDenominator, type FTest } from "@/lib/core/gauge-studies/crossed-anova";
import { crossedLayout, type CrossedLayout } from "@/lib/core/gauge-studies/crossed-layout";
import { decisionAgreement } from "@/lib/core/gauge-studies/decision-agreement";
import { exchangedParts } from "@/lib/core/gauge-studies/exchanged-parts";
import { gaugeBias, readingsByReference, type ReferencedReading } from "@/lib/core/gauge-studies/gauge-bias";
import { gaugeLinearity } from "@/lib/core/gauge-studies/gauge-linearity";
import {
  studyComponents,
  studySds,
  type StudyComponents,
  type StudyInterval,
  type StudySds,
} from "@/lib/core/gauge-studies/study-components";
import type { GaugeStudyRequest } from "@/lib/schemas/gauge-study";
import { assertFinite } from "./assert-finite";
import { ANALYSIS_WORDS } from "./words";

const words = ANALYSIS_WORDS.answerGaugeStudy;

type Of<M extends GaugeStudyRequest["method"]> = Extract<GaugeStudyRequest, { method: M }>;
type Answer = Readonly<Record<string, unknown>>;

/** Standard deviations that a gauge's spread is taken as: 99.73 % of a normal distribution. */
const SPREAD = 6;
const refusal = (reason: string): Answer => ({ ok: false, reason });
const mapped = <K extends string, V>(of: Readonly<Record<K, number | null>>, make: (value: number, key: K) => V) =>
  Object.fromEntries(
    (Object.entries(of) as [K, number | null][]).map(([key, value]) => [key, value === null ? null : make(value, key)]),
  );

/** Spread in percent of the tolerance, sd in percent of the process's, variance in percent of the process's. */
function sharesOf(sds: Readonly<Record<string, number | null>>, total: number, tolerance: number | null | undefined) {
  return {
    percentOfTolerance: tolerance ? mapped(sds, (sd) => (100 * SPREAD * sd) / tolerance) : null,
    percentOfVariation: total > 0 ? mapped(sds, (sd) => (100 * sd) / total) : null,
    percentContribution: total > 0 ? mapped(sds, (sd) => 100 * (sd / total) ** 2) : null,
  };
}

/** Words for parts that look exchanged, if any do. */
function exchangeWarning(layout: CrossedLayout): string[] {
  const found = exchangedParts(layout);
  if (found === null) return [];
  const where =
    found.trial === null ? words.inAllTrialsOf(found.inspector) : words.inTrialOf(found.trial, found.inspector);
  return [
    `Parts ${found.parts[0]} and ${found.parts[1]} look exchanged ${where}: read the other way round they fit. Look at the parts, or measure them again.`,
  ];
}

const flooredOf = (categories: number | null): number | null => (categories === null ? null : Math.floor(categories));

function negativeWarnings(
  { withInteraction, withoutInteraction }: CrossedAnova,
  { isPooled }: StudyComponents,
): string[] {
  const { raw } = isPooled ? withoutInteraction : withInteraction;
  const names = { reproducibility: "between inspectors", interaction: "inspector with part", part: "between parts" };
  return (Object.keys(names) as (keyof typeof names)[]).flatMap((key) => {
    const value = raw[key];
    return value !== null && value < 0
      ? [
          `The estimate of the variance ${names[key]} is negative and counts as 0: it shows nothing beyond repeatability.`,
        ]
      : [];
  });
}

const fOf = (test: FTest): number | null => test?.f ?? null;

/** F values under each denominator by its name; those of the model in use stand beside. */
function fValues(anova: CrossedAnova, used: FDenominator) {
  const against = mapped({ repeatability: 0, interaction: 0, pooled: 0 }, (_, key) => ({
    part: anova.tests[key].part,
    inspector: anova.tests[key].inspector,
  }));
  return {
    denominator: used,
    part: fOf(anova.tests[used].part),
    inspector: fOf(anova.tests[used].inspector),
    interaction: fOf(anova.interactionTest),
    pValues: {
      part: anova.tests[used].part?.pValue ?? null,
      inspector: anova.tests[used].inspector?.pValue ?? null,
      interaction: anova.interactionTest?.pValue ?? null,
    },
    against,
  };
}

function anovaAnswer({ readings, tolerance, poolingAlpha, confidence = 0.95 }: Of<"anova">): Answer {
  const layout = crossedLayout(readings);
  if (!layout.ok) return refusal(layout.reason);
  const estimate = crossedAnova(layout.value);
  if (!estimate.ok) return refusal(estimate.reason);
  const anova = estimate.value;
  const components = studyComponents(anova, {
    confidence,
    ...(poolingAlpha === undefined ? {} : { alpha: poolingAlpha }),
  });
  const { sds, isPooled, intervals, gaugeShareInterval, distinctCategories } = components;
  const { part, inspector, interaction, repeatability, pooled, total } = anova;
  const ofTolerance = ([lower, upper]: StudyInterval) => [
    (100 * SPREAD * lower) / (tolerance ?? 1),
    (100 * SPREAD * upper) / (tolerance ?? 1),
  ];
  return {
    ok: true,
    ...sds,
    ndc: flooredOf(distinctCategories),
    ndcExact: distinctCategories,
    f: fValues(anova, isPooled ? "pooled" : "interaction"),
    ...sharesOf(sds, sds.total, tolerance),
    pooling: { isPooled, pValue: components.pValue, alpha: components.alpha },
    counts: { parts: anova.parts, inspectors: anova.inspectors, trials: anova.trials },
    mean: anova.mean,
    inspectors: layout.value.inspectors.map((name, at) => ({
      inspector: name,
      effect: anova.inspectorEffects[at] ?? 0,
    })),
    table: { part, inspector, interaction, repeatability, pooled, total },
    intervals: {
      confidence,
      ...intervals,
      percentOfTolerance: tolerance ? mapped(sds, (_, key: keyof StudySds) => ofTolerance(intervals[key])) : null,
      gaugePercentOfVariation: gaugeShareInterval.map((share) => 100 * Math.sqrt(share)),
      ndc: components.distinctCategoriesInterval,
    },
    gaugeDegrees: components.gaugeDegrees,
    unrounded: { withInteraction: anova.withInteraction, withoutInteraction: anova.withoutInteraction },
    otherModel: studySds(isPooled ? anova.withInteraction : anova.withoutInteraction),
    warnings: [...negativeWarnings(anova, components), ...exchangeWarning(layout.value)],
  };
}

function rangeAnswer({ readings, tolerance }: Of<"average-and-range">): Answer {
  const layout = crossedLayout(readings);
  if (!layout.ok) return refusal(layout.reason);
  const estimate = averageAndRange(layout.value);
  if (!estimate.ok) return refusal(estimate.reason);
  const { sds, distinctCategories, isReproducibilityZero, ...rest } = estimate.value;
  const { parts, inspectors, trials } = layout.value;
  return {
    ok: true,
    ...sds,
    interaction: null,
    ndc: flooredOf(distinctCategories),
    ndcExact: distinctCategories,
    f: null,
    ...sharesOf({ ...sds, interaction: null }, sds.total, tolerance),
    counts: { parts: parts.length, inspectors: inspectors.length, trials: trials.length },
    ...rest,
    intervals: null,
    warnings: [
      "Average and range does not see an interaction of inspector and part, and gives no intervals; the analysis of variance does.",
      ...(isReproducibilityZero
        ? [
            "The estimate of the variance between inspectors is negative and counts as 0: it shows nothing beyond repeatability.",
          ]
        : []),
      ...rest.beyond.map(({ part, inspector }) => words.rangeOfPart(part, inspector)),
      ...exchangeWarning(layout.value),
    ],
  };
}

/** Cg and Cgk: a fifth of the tolerance to six standard deviations, and what the bias leaves of its half. */
function abilityOf(bias: number, sd: number, tolerance: number | null | undefined) {
  if (!tolerance) return { cg: null, cgk: null, percentOfTolerance: null };
  return {
    cg: (0.2 * tolerance) / (SPREAD * sd),
    cgk: (0.1 * tolerance - Math.abs(bias)) / ((SPREAD / 2) * sd),
    percentOfTolerance: { bias: (100 * Math.abs(bias)) / tolerance, repeatability: (100 * SPREAD * sd) / tolerance },
  };
}

function biasAt(reference: number, values: readonly number[], request: Of<"bias">): Answer {
  const estimate = gaugeBias(reference, values, request.confidence);
  if (!estimate.ok) return { ...refusal(estimate.reason), reference };
  const { bias, repeatability } = estimate.value;
  return { ok: true, ...estimate.value, ...abilityOf(bias, repeatability, request.tolerance) };
}

function biasAnswer(request: Of<"bias">): Answer {
  const byReference = [...readingsByReference(request.readings)];
  const [first, second] = byReference;
  const confidence = request.confidence ?? 0.95;
  if (first !== undefined && second === undefined)
    return { confidence, ...biasAt(first[0], first[1], request), warnings: [] };
  const references = byReference.map(([reference, values]) => biasAt(reference, values, request));
  const all = gaugeBias(0, deviationsOf(request.readings), request.confidence);
  if (!all.ok || !references.some(({ ok }) => ok)) return refusal(all.ok ? String(references[0]?.reason) : all.reason);
  const { bias, interval, repeatability, degrees, t, pValue, count } = all.value;
  return {
    ok: true,
    confidence,
    ...{ count, bias, interval, repeatability, degrees, t, pValue },
    ...abilityOf(bias, repeatability, request.tolerance),
    references,
    warnings: [
      "There are several references: the bias over all of them stands beside that of each. Ask for linearity to see whether it changes with size.",
    ],
  };
}

const deviationsOf = (readings: readonly ReferencedReading[]) =>
  readings.map(({ reference, value }) => value - reference);

function linearityAnswer({ readings, tolerance, processVariation, confidence = 0.95 }: Of<"linearity">): Answer {
  const estimate = gaugeLinearity(readings, confidence);
  if (!estimate.ok) return refusal(estimate.reason);
  const { slope, intercept, ...rest } = estimate.value;
  const steep = Math.abs(slope.value);
  return {
    ok: true,
    confidence,
    slope: slope.value,
    intercept: intercept.value,
    coefficients: { slope, intercept },
    ...rest,
    percentLinearity: 100 * steep,
    linearity: {
      overTolerance: tolerance ? steep * tolerance : null,
      overProcessVariation: processVariation === undefined ? null : steep * processVariation,
    },
    warnings:
      rest.lackOfFit !== null && rest.lackOfFit.pValue < 0.05
        ? ["The biases do not lie on a line: read them reference by reference."]
        : [],
  };
}

function agreementAnswer({ decisions, confidence = 0.95 }: Of<"agreement">): Answer {
  const estimate = decisionAgreement(decisions, confidence);
  if (!estimate.ok) return refusal(estimate.reason);
  const flat = (kappa: (typeof estimate.value)["fleiss"]) =>
    kappa.ok ? { ok: true, ...kappa.value } : { ...refusal(kappa.reason), kappa: null };
  const { fleiss, within, pairs, reference, ...rest } = estimate.value;
  return {
    ok: true,
    confidence,
    ...rest,
    fleiss: flat(fleiss),
    cohen: pairs.map(({ inspectors, kappa }) => ({ inspectors, ...flat(kappa) })),
    within: within?.map(({ kappa, ...each }) => ({ ...each, ...flat(kappa) })) ?? null,
    reference: reference?.map(({ kappa, ...each }) => ({ ...each, ...flat(kappa) })) ?? null,
    warnings: estimate.warnings,
  };
}

function answerOf(request: GaugeStudyRequest): Answer {
  switch (request.method) {
    case "anova":
      return anovaAnswer(request);
    case "average-and-range":
      return rangeAnswer(request);
    case "bias":
      return biasAnswer(request);
    case "linearity":
      return linearityAnswer(request);
    case "agreement":
      return agreementAnswer(request);
  }
}

/**
 * What the readings of a study say of a gauge; stores nothing. An answer that the readings do not give is `{ ok: false, reason }`.
 *
 * @throws AppError invalid-input for a result beyond double precision; CoreError for wrong input
 */
export function answerGaugeStudy(request: GaugeStudyRequest): Answer {
  const answer = { coreVersion: CORE_VERSION, method: request.method, ...answerOf(request) };
  assertFinite(answer);
  return answer;
}
