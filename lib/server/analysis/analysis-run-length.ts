import "server-only";
import { cusumRunLength, cusumRunLengthOneSided } from "@/lib/core/control/run-length/cusum-run-length";
import {
  estimatedLimitsRunLength,
  type BaselineDesign,
  type ChartDesign,
  type RunLengthInterval,
} from "@/lib/core/control/run-length/estimated-limits-run-length";
import { ewmaRunLength } from "@/lib/core/control/run-length/ewma-run-length";
import { formEwmaRunLength } from "@/lib/core/control/charts/form-ewma";
import { mewmaRunLength } from "@/lib/core/control/run-length/mewma-run-length";
import { rulesRunLength, type RunLength } from "@/lib/core/control/run-length/rules-run-length";
import type { RunRule } from "@/lib/core/control/rules/run-rules";
import { AppError } from "@/lib/errors";
import type { AnalysisRequest } from "@/lib/schemas/analysis";
import { analysisRules } from "./analysis-chart";
import { ANALYSIS_WORDS } from "./words";

const words = ANALYSIS_WORDS.analysisRunLength;

type Design = Extract<AnalysisRequest, { kind: "run-length" }>["design"];
type Baseline = NonNullable<Extract<Design, { of: "rules" }>["baseline"]>;
type Answer = Partial<RunLength> & { mean: number; method: string; estimatedLimits?: RunLengthInterval };

/** Runs that a first guess of the mean rests on. */
const PILOT_RUNS = 10;
/** Points that one request may simulate, about a second; and the runs that make a standard error at least. */
const MOST_POINTS = 10_000_000;
const FEWEST_RUNS = 20;
const USUAL_RUNS = 10_000;

/**
 * Run length of rules; where it has to be simulated with as many runs as take about a second, and their standard error.
 *
 * @throws CoreError not-converged where the rules practically never signal
 */
function rulesLength(rules: readonly RunRule[], shift: number, limit: { limit?: number }): RunLength {
  const pilot = rulesRunLength(rules, { shift, ...limit, runs: PILOT_RUNS });
  if (pilot.method === "exact") return pilot;
  const runs = Math.min(USUAL_RUNS, Math.max(FEWEST_RUNS, Math.floor(MOST_POINTS / pilot.mean)));
  return rulesRunLength(rules, { shift, ...limit, runs });
}

function withEstimated(chart: ChartDesign, baseline: Baseline | undefined, shift: number) {
  if (baseline === undefined) return {};
  return { estimatedLimits: estimatedLimitsRunLength(chart, baseline as BaselineDesign, { shift }) };
}

/**
 * The run length that a request asks for.
 *
 * @throws CoreError for wrong input; AppError invalid-input for a one-sided CUSUM with a baseline
 */
export function analysisRunLength(request: Design): Answer {
  const shift = request.of === "form-ewma" ? 0 : (request.shift ?? 0);
  switch (request.of) {
    case "rules": {
      const rules = analysisRules(request.rules, 0);
      const limit = request.limit === undefined ? {} : { limit: request.limit };
      const chart = { chart: "rules", rules, ...limit } as const;
      return { ...rulesLength(rules, shift, limit), ...withEstimated(chart, request.baseline, shift) };
    }
    case "ewma": {
      const { of: _, shift: _shift, baseline, ...design } = request;
      const mean = ewmaRunLength(design, shift);
      return { mean, method: "exact", ...withEstimated({ chart: "ewma", design }, baseline, shift) };
    }
    case "cusum": {
      const { of: _, shift: _shift, baseline, sides, ...design } = request;
      if (sides === "one") {
        if (baseline !== undefined) {
          throw new AppError("invalid-input", words.baselineGoesWithCusum);
        }
        return { mean: cusumRunLengthOneSided(design, shift), method: "exact" };
      }
      const mean = cusumRunLength(design, shift);
      return { mean, method: "exact", ...withEstimated({ chart: "cusum", design }, baseline, shift) };
    }
    case "form-ewma": {
      const { of: _, model, factor, ...design } = request;
      return { mean: formEwmaRunLength(model, design, factor), method: "exact" };
    }
    case "mewma": {
      const { of: _, shift: _shift, ...design } = request;
      return { mean: mewmaRunLength(design, shift), method: "exact" };
    }
  }
}
