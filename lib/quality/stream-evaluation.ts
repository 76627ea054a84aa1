import type { ChartSignal } from "../core/control/chart-result";
import type { Seat } from "../core/metrology/reading-name";
import { CHARACTERISTIC_UNIT, type CharacteristicName, type FeatureName } from "../core/metrology/shell-drawing";
import {
  APPROVABLE_FRAMES,
  type ChartedStream,
  type ControlLimits,
  controlSignals,
  estimateControlLimits,
} from "./control-limits";
import { numberText, seatText } from "./value-text";

/** What a stream charts: its characteristic and seat, which number of it, and that number's unit. */
export type StreamSubject = {
  readonly characteristic: CharacteristicName;
  readonly seat: Seat | null;
  readonly statistic: "mean" | "range" | "value";
  readonly unit: "mm" | "µm" | "arcmin";
};

/** One signal with its words. Indices count the values of the stream from 0. */
export type StreamSignal = ChartSignal & { readonly text: string };

/** What the values of one stream say. */
export type StreamEvaluation = {
  readonly limits: ControlLimits | null;
  /** Why there are no limits, or null. */
  readonly reason: string | null;
  readonly signals: readonly StreamSignal[];
};

const LAST_WORD: Readonly<Record<string, CharacteristicName>> = {
  ovality: "ovality",
  taper: "taper",
  tilt: "tilt",
  face: "face run-out",
};

/** What a charted feature is a number of. */
export function streamSubject(feature: FeatureName): StreamSubject {
  const [head = "", middle = "", end] = feature.split(".");
  const seat = head === "ds" || head === "nds" ? head : null;
  if (seat === null) {
    const characteristic: CharacteristicName = head === "width" ? "width" : "coaxiality";
    return {
      characteristic,
      seat: null,
      statistic: head === "width" ? "mean" : "value",
      unit: CHARACTERISTIC_UNIT[characteristic],
    };
  }
  if (middle === "bore") {
    const spread = end === "range";
    return { characteristic: "bore", seat, statistic: spread ? "range" : "mean", unit: spread ? "µm" : "mm" };
  }
  const characteristic = LAST_WORD[middle] ?? "bore";
  return { characteristic, seat, statistic: "value", unit: CHARACTERISTIC_UNIT[characteristic] };
}

/** The stream's name in words: "bore of the DS seat, mean of the seat". */
export function streamText(subject: StreamSubject): string {
  const what = {
    mean: subject.characteristic === "bore" ? ", mean of the seat" : ", mean",
    range: ", spread within the bore",
    value: "",
  };
  return `${subject.characteristic}${seatText(subject.seat)}${what[subject.statistic]}`;
}

const PATTERN_WORDS: Readonly<Record<string, string>> = {
  "zone-1": "one frame beyond the control limit",
  "zone-2": "two of three frames in a row beyond two standard deviations",
  "zone-3": "four of five frames in a row beyond one standard deviation",
  "zone-4": "eight frames in a row on one side of the mean",
  "test-1": "one frame beyond the control limit",
};

/** A signal in words, with the value at its last point. */
export function signalText(
  signal: ChartSignal,
  value: number,
  limits: ControlLimits,
  unit: StreamSubject["unit"],
): string {
  const pattern = PATTERN_WORDS[signal.rule] ?? signal.rule;
  const side = signal.side === null ? "" : signal.side === "upper" ? ", high" : ", low";
  const limit = signal.side === "lower" ? limits.lower : limits.upper;
  const beyond = signal.rule.endsWith("-1") && limit !== null ? `, limit ${numberText(limit, unit)}` : "";
  return `${pattern}${side}: ${numberText(value, unit)} ${unit}${beyond}, mean ${numberText(limits.center, unit)}`;
}

/**
 * Limits and signals of one stream.
 *
 * @param values - one value a frame in the order of measuring, all finite
 * @param options.limits - limits in force; without them they come from the first frames of the stream
 * @param options.baselineFrames - how many first frames make the baseline, 100 by default; all where there are fewer
 * @returns limits or the reason why there are none (fewer than 25 frames, no variation), and every signal
 */
export function evaluateStream(
  stream: ChartedStream,
  values: readonly number[],
  options: { readonly limits?: ControlLimits; readonly baselineFrames?: number } = {},
): StreamEvaluation {
  const baseline = values.slice(0, options.baselineFrames ?? APPROVABLE_FRAMES);
  const estimate = options.limits
    ? ({ ok: true, value: options.limits, warnings: [] } as const)
    : estimateControlLimits(stream, baseline);
  if (!estimate.ok) return { limits: null, reason: estimate.reason, signals: [] };
  const limits = estimate.value;
  const { unit } = streamSubject(stream.feature);
  const signals = controlSignals(limits, values).map((signal) => ({
    ...signal,
    text: signalText(signal, values[signal.index] ?? limits.center, limits, unit),
  }));
  return { limits, reason: null, signals };
}
