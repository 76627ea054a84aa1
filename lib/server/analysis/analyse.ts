import "server-only";
import { processCapability } from "@/lib/core/capability/process-capability";
import { adjustment } from "@/lib/core/control/adjustment";
import { attributeChart } from "@/lib/core/control/attribute-chart";
import { betweenWithinChart } from "@/lib/core/control/between-within-chart";
import { changePoint } from "@/lib/core/control/change-point";
import type { ChartEstimate } from "@/lib/core/control/chart-result";
import { cusumChart } from "@/lib/core/control/cusum-chart";
import { cusumRunLength, cusumRunLengthOneSided } from "@/lib/core/control/cusum-run-length";
import { ewmaChart } from "@/lib/core/control/ewma-chart";
import { ewmaRunLength } from "@/lib/core/control/ewma-run-length";
import { hotellingChart } from "@/lib/core/control/hotelling-chart";
import { individualsChart } from "@/lib/core/control/individuals-chart";
import { meanChart } from "@/lib/core/control/mean-chart";
import { oneWayAnova } from "@/lib/core/control/one-way-anova";
import { EIGHT_TESTS, LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "@/lib/core/control/run-rules";
import { rulesRunLength } from "@/lib/core/control/rules-run-length";
import { scanRunRules } from "@/lib/core/control/scan-run-rules";
import { toolLife } from "@/lib/core/control/tool-life";
import { varianceComponents } from "@/lib/core/control/variance-components";
import { CORE_VERSION } from "@/lib/core/version";
import type { AnalysisRequest, AnalysisRules } from "@/lib/schemas/analysis";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";

const NAMED = { zone: ZONE_TESTS, eight: EIGHT_TESTS, limit: LIMIT_TEST_ONLY } as const;

function rulesOf(rules: AnalysisRules): readonly RunRule[] {
  return typeof rules === "string" ? NAMED[rules] : (rules as readonly RunRule[]);
}

const withRules = (rules: AnalysisRules | undefined) => (rules === undefined ? {} : { rules: rulesOf(rules) });

function chartOf(request: Extract<AnalysisRequest, { kind: "chart" }>["chart"]): ChartEstimate {
  switch (request.chart) {
    case "individuals": {
      const { chart: _, values, rules, ...options } = request;
      return individualsChart(values, { ...options, ...withRules(rules) });
    }
    case "mean": {
      const { chart: _, subgroups, rules, ...options } = request;
      return meanChart(subgroups, { ...options, ...withRules(rules) });
    }
    case "between-within": {
      const { chart: _, subgroups, rules, ...options } = request;
      return betweenWithinChart(subgroups, { ...options, ...withRules(rules) });
    }
    case "ewma": {
      const { chart: _, values, ...options } = request;
      return ewmaChart(values, options);
    }
    case "cusum": {
      const { chart: _, values, ...options } = request;
      return cusumChart(values, options);
    }
    case "t2":
      return hotellingChart(request.vectors);
    default: {
      const { chart: kind, counts, ...options } = request;
      return attributeChart(counts, { ...options, kind });
    }
  }
}

function runLengthOf(design: Extract<AnalysisRequest, { kind: "run-length" }>["design"]): unknown {
  const { shift = 0 } = design;
  switch (design.of) {
    case "rules": {
      const limit = design.limit === undefined ? {} : { limit: design.limit };
      return rulesRunLength(rulesOf(design.rules), { shift, ...limit });
    }
    case "ewma":
      return { mean: ewmaRunLength(design, shift), method: "exact" };
    case "cusum":
      return {
        mean: design.sides === "one" ? cusumRunLengthOneSided(design, shift) : cusumRunLength(design, shift),
        method: "exact",
      };
  }
}

function resultOf(request: AnalysisRequest): unknown {
  switch (request.kind) {
    case "chart":
      return chartOf(request.chart);
    case "run-rules": {
      const { values, centre, sigma, lower, upper, rules } = request;
      return { signals: scanRunRules(values, { centre, sigma, lower, upper }, rulesOf(rules)) };
    }
    case "run-length":
      return runLengthOf(request.design);
    case "capability": {
      const { kind: _, characteristic, ...input } = request;
      return processCapability({ ...input, kind: characteristic });
    }
    case "change-point":
      return changePoint(request.values, request.confidence === undefined ? {} : { confidence: request.confidence });
    case "anova":
      return oneWayAnova(request.groups);
    case "variance-components":
      return varianceComponents(request.values, request.factors);
    case "adjustment": {
      const { kind: _, offsets, ...options } = request;
      return adjustment(offsets, options);
    }
    case "tool-life": {
      const { kind: _, ...input } = request;
      return toolLife(input);
    }
  }
}

/**
 * Computes what a program asks of numbers that it sends; stores nothing. An answer that the numbers do not give is
 * `{ ok: false, reason }`.
 *
 * @throws AppError forbidden; CoreError for wrong input
 */
export function analyse(viewer: Viewer, request: AnalysisRequest): unknown {
  assertMay(viewer, "drift.view");
  return { coreVersion: CORE_VERSION, kind: request.kind, result: resultOf(request) };
}
