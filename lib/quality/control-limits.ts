import { EXACT_TAIL } from "../core/capability/capability-indices";
import { mostLikelyModel, ZERO_BOUND_FAMILIES } from "../core/capability/choose-distribution";
import { type FormEwma, formEwma, FORM_EWMA_RULES } from "../core/control/charts/form-ewma";
import { individualsChart } from "../core/control/charts/individuals-chart";
import { LIMIT_TEST_ONLY, ZONE_TESTS, type RunRule } from "../core/control/rules/run-rules";
import { scanRunRules } from "../core/control/rules/scan-run-rules";
import type { ChartSignal } from "../core/control/rules/chart-signal";
import {
  type DistributionFamily,
  type DistributionModel,
  modelQuantile,
  modelUpperQuantile,
} from "../core/distributions/distribution-model";
import { roundedSampleOf } from "../core/distributions/rounded-sample";
import { CoreError } from "../core/errors";
import { FEATURE_NAMES, FEATURES, type FeatureName, type FeatureStatistic } from "../core/metrology/features";
import { isConstant } from "../core/numerics/descriptive-statistics";
import { featureWithoutNoise } from "./feature-noise";

/** Frames from which limits are provisional, and from which they can be approved. */
export const PROVISIONAL_FRAMES = 25;
export const APPROVABLE_FRAMES = 100;

/**
 * How a feature is charted. Sizes: individuals of the seat's mean with the zone tests. Form, position and spread are skewed:
 * limits are quantiles of a fitted distribution; a point beyond them and a one-sided average are the only tests.
 */
export type StreamKind = "individuals" | "quantile";

export type ChartedStream = {
  readonly feature: FeatureName;
  readonly kind: StreamKind;
  /** The size of a signed feature is charted, not its sign. */
  readonly absolute: boolean;
};

const ORDER: readonly FeatureStatistic[] = ["mean", "range", "value"];

/** The features of one line and drawing that are charted one by one: sizes, spreads, form and position. */
export const CHARTED_STREAMS: readonly ChartedStream[] = FEATURES.flatMap((feature) =>
  feature.chart === null ? [] : [{ ...feature, chart: feature.chart }],
)
  .sort((a, b) => ORDER.indexOf(a.statistic) - ORDER.indexOf(b.statistic))
  .map(({ name, chart, characteristic }) => ({ feature: name, kind: chart, absolute: characteristic === "taper" }));

const PLACE = new Map<string, number>(FEATURE_NAMES.map((name, index) => [name, index]));

/** Value that a stream charts, out of a stored row of features; null where the inspection did not give it. */
export function streamValue(stream: ChartedStream, features: readonly (number | null)[]): number | null {
  const value = features[PLACE.get(stream.feature) ?? -1] ?? null;
  if (value === null) return null;
  return stream.absolute ? Math.abs(featureWithoutNoise(value)) : featureWithoutNoise(value);
}

/** Frames that the one-sided average of a form deviation looks back on: what is older weighs 0.3 % together. */
export const AVERAGE_MEMORY = 20;
/** The rule that an average beyond its limit breaks. */
export const AVERAGE_RULE = FORM_EWMA_RULES[0].id;

/** Limits of one stream, as stored with a version; all in the feature's unit. */
export type ControlLimits = {
  readonly kind: StreamKind;
  readonly center: number;
  /** Standard deviation of one value; 0 where the limits are quantiles and have no zones. */
  readonly sigma: number;
  readonly lower: number | null;
  readonly upper: number | null;
  readonly rangeCenter: number | null;
  readonly rangeUpper: number | null;
  /** The one-sided average of a form deviation and its limit; null where there is none. */
  readonly average: FormEwma | null;
  readonly frames: number;
  readonly provisional: boolean;
  readonly method: LimitsMethod;
};

/** How limits were computed; `text` as it was kept with a version. */
export type LimitsMethod =
  | { readonly code: "moving-range" | "offset-vector" }
  | { readonly code: "quantiles"; readonly family: DistributionFamily; readonly hasHalfStep: boolean }
  | { readonly code: "kept"; readonly text: string };

/** Why there are no limits; `why` as the chart gives it. */
export type NoLimitsReason =
  | { readonly code: "too-few-frames"; readonly needed: number; readonly frames: number }
  | { readonly code: "all-equal" | "no-distribution" | "on-a-line" }
  | { readonly code: "not-given"; readonly why: string };

/** Limits, or why there are none. */
export type EstimatedLimits<T> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly reason: NoLimitsReason };

/** The run rules that a stream of a kind is tested by. */
export function rulesOf(kind: StreamKind): readonly RunRule[] {
  return kind === "individuals" ? ZONE_TESTS : LIMIT_TEST_ONLY;
}

function individualsLimits(values: readonly number[]): EstimatedLimits<ControlLimits> {
  const chart = individualsChart(values, { rules: ZONE_TESTS });
  if (!chart.ok) return { ok: false, reason: { code: "not-given", why: chart.reason } };
  const { centre, sigma } = chart.value.estimates;
  const range = chart.value.companions[0];
  return {
    ok: true,
    value: {
      kind: "individuals",
      center: centre,
      sigma,
      lower: centre - 3 * sigma,
      upper: centre + 3 * sigma,
      rangeCenter: range?.centre[0] ?? null,
      rangeUpper: range?.upper.at(-1) ?? null,
      average: null,
      frames: values.length,
      provisional: values.length < APPROVABLE_FRAMES,
      method: { code: "moving-range" },
    },
  };
}

/**
 * Control limits of a stream from the values of its baseline.
 *
 * @param values - one value a frame in the order of measuring, all finite
 * @returns ok: false with the reason where there are fewer than 25 frames or no variation
 */
export function estimateControlLimits(
  stream: ChartedStream,
  values: readonly number[],
): EstimatedLimits<ControlLimits> {
  if (values.length < PROVISIONAL_FRAMES)
    return { ok: false, reason: { code: "too-few-frames", needed: PROVISIONAL_FRAMES, frames: values.length } };
  return stream.kind === "individuals" ? individualsLimits(values) : quantileLimits(values);
}

/**
 * Limits at quantiles. A coarse gauge shows multiples of its step: a value is beyond the limit only where all that it stands
 * for is, so the limit lies half a step above the quantile, and the average's follows from the rounded values.
 */
function quantileLimits(given: readonly number[]): EstimatedLimits<ControlLimits> {
  const values = given.map(featureWithoutNoise);
  if (isConstant(values)) return { ok: false, reason: { code: "all-equal" } };
  const model = mostLikelyModel(values, ZERO_BOUND_FAMILIES);
  if (model === null) return { ok: false, reason: { code: "no-distribution" } };
  const step = roundedSampleOf(values)?.grid.step ?? null;
  return {
    ok: true,
    value: {
      kind: "quantile",
      center: modelQuantile(model, 0.5),
      sigma: 0,
      lower: null,
      upper: modelUpperQuantile(model, EXACT_TAIL) + (step ?? 0) / 2,
      rangeCenter: null,
      rangeUpper: null,
      average: averageOf(model, step),
      frames: values.length,
      provisional: values.length < APPROVABLE_FRAMES,
      method: { code: "quantiles", family: model.family, hasHalfStep: step !== null },
    },
  };
}

/** The average for a fitted distribution; null where none has the run length that is asked for. */
function averageOf(model: DistributionModel, resolution: number | null): FormEwma | null {
  try {
    return formEwma(model, resolution === null ? {} : { resolution });
  } catch (error) {
    if (error instanceof CoreError) return null;
    throw error;
  }
}

/**
 * The one-sided average of a form deviation at each frame, over that frame and the 19 before it.
 *
 * @param values - one value a frame in the order of measuring
 */
export function averagesOf(average: FormEwma, values: readonly number[]): number[] {
  const { lambda, start } = average;
  return values.map((_, index) =>
    values
      .slice(Math.max(0, index + 1 - AVERAGE_MEMORY), index + 1)
      .reduce((mean, value) => mean + lambda * (value - mean), start),
  );
}

function averageSignals(average: FormEwma, values: readonly number[]): ChartSignal[] {
  const means = averagesOf(average, values);
  let since = 0;
  return means.flatMap((mean, index): ChartSignal[] => {
    if (mean <= average.start) since = index + 1;
    if (!(mean > average.limit)) return [];
    const first = Math.max(since, index + 1 - AVERAGE_MEMORY);
    const points = Array.from({ length: index + 1 - first }, (__, k) => first + k);
    return [{ index, rule: AVERAGE_RULE, side: "upper", points }];
  });
}

/**
 * Signals of a stretch of a stream under given limits. Of a pattern that goes on from point to point only its first point is
 * given: one signal for one thing that happened.
 *
 * @param values - one value a frame in the order of measuring, all finite
 */
export function controlSignals(limits: ControlLimits, values: readonly number[]): ChartSignal[] {
  const { center, sigma, lower, upper, kind, average } = limits;
  const lines = { centre: center, sigma: sigma > 0 ? sigma : null, lower, upper };
  const signals = [
    ...scanRunRules(values, lines, rulesOf(kind)),
    ...(average === null ? [] : averageSignals(average, values)),
  ].sort((a, b) => a.index - b.index);
  const seen = new Set(signals.map((signal) => `${signal.rule} ${signal.side} ${signal.index}`));
  return signals.filter((signal) => !seen.has(`${signal.rule} ${signal.side} ${signal.index - 1}`));
}
