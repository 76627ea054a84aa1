import "server-only";
import { chooseDistribution, SIZE_FAMILIES, ZERO_BOUND_FAMILIES } from "@/lib/core/capability/choose-distribution";
import { offsetCapability } from "@/lib/core/capability/offset-capability";
import { processCapability } from "@/lib/core/capability/process-capability";
import { adjustment } from "@/lib/core/control/causes/adjustment";
import { autocorrelationEffect } from "@/lib/core/control/causes/autocorrelation";
import { chartConstants } from "@/lib/core/control/charts/chart-constants";
import { changePoint } from "@/lib/core/control/causes/change-point";
import { designChart } from "@/lib/core/control/run-length/design-chart";
import { gatherFindings } from "@/lib/core/control/causes/findings";
import { targetPlot } from "@/lib/core/control/charts/hotelling-target";
import { oneWayAnova } from "@/lib/core/control/causes/one-way-anova";
import { scanRunRules } from "@/lib/core/control/rules/scan-run-rules";
import { toolLife } from "@/lib/core/control/tool-life/tool-life";
import { varianceComponents } from "@/lib/core/control/causes/variance-components";
import { andersonDarlingNormal, andersonDarlingRounded } from "@/lib/core/distributions/anderson-darling";
import { roundedSampleOf, withoutNoise } from "@/lib/core/distributions/rounded-sample";
import { isConstant, sampleShape, sampleSummary } from "@/lib/core/numerics/descriptive-statistics";
import { CORE_VERSION } from "@/lib/core/version";
import { MOST_RESAMPLED, type AnalysisRequest } from "@/lib/schemas/analysis";
import { analysisChart, analysisRules } from "./analysis-chart";
import { analysisRunLength } from "./analysis-run-length";
import { assertFinite } from "./assert-finite";
import { ANALYSIS_WORDS } from "./words";

const words = ANALYSIS_WORDS.analyse;

const USUAL_RESAMPLES = 999;

function resultOf(request: AnalysisRequest): unknown {
  switch (request.kind) {
    case "chart":
      return analysisChart(request.chart);
    case "run-rules": {
      const { values, centre, sigma, lower, upper, rules } = request;
      return { signals: scanRunRules(values, { centre, sigma, lower, upper }, analysisRules(rules, values.length)) };
    }
    case "run-length":
      return analysisRunLength(request.design);
    case "chart-design":
      return designChart(request.inControl, request.shift);
    case "capability": {
      const { kind: _, characteristic, ...input } = request;
      const affordable = Math.floor(MOST_RESAMPLED / input.values.length);
      const resamples = input.resamples ?? Math.min(USUAL_RESAMPLES, affordable);
      return processCapability({ ...input, resamples, kind: characteristic });
    }
    case "offset-capability": {
      const { kind: _, ...input } = request;
      return offsetCapability(input);
    }
    case "normality":
      return normality(request);
    case "distribution":
      return distribution(request);
    case "chart-constants":
      return chartConstants(request.n);
    case "change-point":
      return changePoint(request.values, request.confidence === undefined ? {} : { confidence: request.confidence });
    case "autocorrelation":
      return autocorrelationEffect(request.values, request.confidence);
    case "anova":
      return oneWayAnova(request.groups);
    case "variance-components":
      return varianceComponents(request.values, request.factors);
    case "target-plot":
      return targetPlot(request.offsets, request.confidence);
    case "adjustment": {
      const { kind: _, offsets, ...options } = request;
      return adjustment(offsets, options);
    }
    case "tool-life": {
      const { kind: _, ...input } = request;
      return toolLife(input);
    }
    case "findings": {
      const { kind: _, signals, frames, ...options } = request;
      return { findings: gatherFindings(signals, frames, options) };
    }
  }
}

const FEWEST_FOR_FIT = 8;

function tooFewOrEqual(values: readonly number[]): { ok: false; reason: string } | null {
  if (values.length < FEWEST_FOR_FIT)
    return { ok: false, reason: words.distributionNeedsAtLeastValues(FEWEST_FOR_FIT, values.length) };
  return isConstant(withoutNoise(values)) ? { ok: false, reason: words.allValuesAreEqual } : null;
}

type Normality = Extract<AnalysisRequest, { kind: "normality" }>;

/**
 * Anderson-Darling test of normality, with mean, deviation and shape: as published, and for values that are known to a
 * resolution only once more with ties that do not count against the distribution.
 */
function normality({ values, resolution }: Normality): unknown {
  const refusal = tooFewOrEqual(values);
  if (refusal !== null) return refusal;
  const summary = sampleSummary(values);
  const rounded = roundedSampleOf(values, resolution === undefined ? {} : { resolution });
  const model = { family: "normal", mean: summary.mean, sd: summary.sd ?? 0 } as const;
  const value = {
    ...summary,
    shape: sampleShape(values),
    andersonDarling: andersonDarlingNormal(values),
    andersonDarlingRounded: rounded === null ? null : andersonDarlingRounded(rounded, model, { seed: 1 }),
  };
  return { ok: true, value, warnings: [] };
}

type Distribution = Extract<AnalysisRequest, { kind: "distribution" }>;

/** The choice among families, with everything that was tried. */
function distribution({ values, characteristic, families, seed = 1, resolution }: Distribution): unknown {
  const refusal = tooFewOrEqual(values);
  if (refusal !== null) return refusal;
  const usual = characteristic === "size" ? SIZE_FAMILIES : ZERO_BOUND_FAMILIES;
  const options = resolution === undefined ? {} : { resolution };
  const { warnings, ...value } = chooseDistribution(values, families ?? usual, seed, options);
  return { ok: true, value, warnings };
}

/**
 * Computes what a program asks of numbers that it sends; stores nothing. An answer that the numbers do not give is
 * `{ ok: false, reason }`.
 *
 * @throws AppError invalid-input for a result beyond double precision; CoreError for wrong input
 */
export function analyse(request: AnalysisRequest): unknown {
  const result = resultOf(request);
  assertFinite(result);
  return { coreVersion: CORE_VERSION, kind: request.kind, result };
}
