import "server-only";
import { attributeChart } from "@/lib/core/control/charts/attribute-chart";
import { betweenWithinChart } from "@/lib/core/control/charts/between-within-chart";
import type { ChartEstimate } from "@/lib/core/control/charts/chart-result";
import { cusumChart } from "@/lib/core/control/charts/cusum-chart";
import { ewmaChart } from "@/lib/core/control/charts/ewma-chart";
import { formEwma, formEwmaChart } from "@/lib/core/control/charts/form-ewma";
import { hotellingChart, hotellingMeanChart } from "@/lib/core/control/charts/hotelling-chart";
import { individualsChart } from "@/lib/core/control/charts/individuals-chart";
import { meanChart } from "@/lib/core/control/charts/mean-chart";
import { mewmaChart } from "@/lib/core/control/charts/mewma-chart";
import { quantileChart } from "@/lib/core/control/charts/quantile-chart";
import { EIGHT_TESTS, LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "@/lib/core/control/rules/run-rules";
import { deviationChart, standardisedChart } from "@/lib/core/control/charts/short-run-chart";
import { trendedChart } from "@/lib/core/control/charts/trended-chart";
import { AppError } from "@/lib/errors";
import { MOST_PATTERN_POINTS, type AnalysisChart, type AnalysisRules } from "@/lib/schemas/analysis-chart";
import { ANALYSIS_WORDS } from "./words";

const words = ANALYSIS_WORDS.analysisChart;

const NAMED = { zone: ZONE_TESTS, eight: EIGHT_TESTS, limit: LIMIT_TEST_ONLY } as const;

/** Points that the pattern of a rule has. */
function patternLength(rule: RunRule): number {
  if (rule.test === "beyond-limit") return 1;
  return rule.test === "k-of-m" ? rule.m : rule.length;
}

/**
 * Rules that a request names or describes.
 *
 * @param points - how many points they will be tested on
 * @throws AppError too-large where the points of all their signals could be more than one answer holds
 */
export function analysisRules(rules: AnalysisRules, points: number): readonly RunRule[] {
  const named = typeof rules === "string" ? NAMED[rules] : (rules as readonly RunRule[]);
  const length = named.reduce((sum, rule) => sum + patternLength(rule), 0);
  if (points * length <= MOST_PATTERN_POINTS) return named;
  const most = Math.floor(MOST_PATTERN_POINTS / length);
  throw new AppError("too-large", words.rulesWhosePatternsHavePoints(length, most, points), { details: { most } });
}

const withRules = (rules: AnalysisRules | undefined, { length }: readonly unknown[]) =>
  rules === undefined ? {} : { rules: analysisRules(rules, length) };

/**
 * The chart that a request asks for.
 *
 * @throws CoreError for wrong input
 */
export function analysisChart(request: AnalysisChart): ChartEstimate {
  switch (request.chart) {
    case "individuals": {
      const { chart: _, values, rules, ...options } = request;
      return individualsChart(values, { ...options, ...withRules(rules, values) });
    }
    case "mean": {
      const { chart: _, subgroups, rules, ...options } = request;
      return meanChart(subgroups, { ...options, ...withRules(rules, subgroups) });
    }
    case "between-within": {
      const { chart: _, subgroups, rules, ...options } = request;
      return betweenWithinChart(subgroups, { ...options, ...withRules(rules, subgroups) });
    }
    case "ewma": {
      const { chart: _, values, ...options } = request;
      return ewmaChart(values, options);
    }
    case "cusum": {
      const { chart: _, values, ...options } = request;
      return cusumChart(values, options);
    }
    case "trended": {
      const { chart: _, values, rules, ...options } = request;
      return trendedChart(values, { ...options, ...withRules(rules, values) });
    }
    case "deviation-from-nominal": {
      const { chart: _, values, nominals, rules, ...options } = request;
      return deviationChart(values, nominals, { ...options, ...withRules(rules, values) });
    }
    case "standardised": {
      const { chart: _, values, models, rules, ...options } = request;
      return standardisedChart(values, models, { ...options, ...withRules(rules, values) });
    }
    case "quantile": {
      const { chart: _, values, ...options } = request;
      return quantileChart(values, options);
    }
    case "form-ewma": {
      const { chart: _, values, model, excluded, ...options } = request;
      const ewma = formEwma(model, options);
      return formEwmaChart(values, { ewma, ...(excluded === undefined ? {} : { excluded }) });
    }
    case "t2": {
      const { chart: _, vectors, ...options } = request;
      return hotellingChart(vectors, options);
    }
    case "t2-means": {
      const { chart: _, subgroups, ...options } = request;
      return hotellingMeanChart(subgroups, options);
    }
    case "mewma": {
      const { chart: _, vectors, ...options } = request;
      return mewmaChart(vectors, options);
    }
    default: {
      const { chart: kind, counts, rules, ...options } = request;
      return attributeChart(counts, { ...options, ...withRules(rules, counts), kind });
    }
  }
}
