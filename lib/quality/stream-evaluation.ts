import type { ChartSignal } from "../core/control/rules/chart-signal";
import type { Seat } from "../core/metrology/reading-name";
import { CHARACTERISTIC_UNIT, type CharacteristicName, type CharacteristicUnit } from "../core/metrology/shell-drawing";
import { featureNamed, type FeatureName } from "../core/metrology/features";
import type { OffsetVector } from "../core/capability/offset-capability";
import {
  APPROVABLE_FRAMES,
  AVERAGE_RULE,
  averagesOf,
  type ChartedStream,
  type ControlLimits,
  controlSignals,
  estimateControlLimits,
  type NoLimitsReason,
} from "./control-limits";
import {
  estimateOffsetLimits,
  OFFSET_COMPONENTS,
  type OffsetLimits,
  type OffsetSignal,
  offsetSignals,
  offsetT2,
} from "./stream-offset";

/** What a stream charts: its characteristic and seat, which number of it, and that number's unit. */
export type StreamSubject = {
  readonly characteristic: CharacteristicName;
  readonly seat: Seat | null;
  readonly statistic: "mean" | "range" | "value" | "offset";
  readonly unit: CharacteristicUnit | "T2";
};

/**
 * One signal with the value at its last point; of an average beyond its limit, the average there. Indices count the values of the
 * stream from 0. Of the offset vector how far it lies off, and where to.
 */
export type StreamSignal = ChartSignal & { readonly value: number; readonly offset?: OffsetSignal };

/** What the values of one stream say. */
export type StreamEvaluation = {
  readonly limits: ControlLimits | null;
  /** Why there are no limits, or null. */
  readonly reason: NoLimitsReason | null;
  readonly signals: readonly StreamSignal[];
  /** Mean and covariance of the offset vector, for its stream alone. */
  readonly offset: OffsetLimits | null;
};

/** What the stream of the alignment offset charts. */
export const OFFSET_SUBJECT: StreamSubject = {
  characteristic: "coaxiality",
  seat: "nds",
  statistic: "offset",
  unit: "T2",
};

/** What a charted feature is a number of. */
export function streamSubject(feature: FeatureName): StreamSubject {
  const { characteristic, seat, statistic, unit } = featureNamed(feature);
  if (characteristic === "coaxiality") return OFFSET_SUBJECT;
  return { characteristic, seat, statistic: statistic === "value" || statistic === "range" ? statistic : "mean", unit };
}

function valuesAt<T>(values: readonly T[], places: readonly number[]): T[] {
  return places.flatMap((place) => {
    const value = values[place];
    return value === undefined ? [] : [value];
  });
}

/**
 * Limits and signals of one stream.
 *
 * @param values - one value a frame in the order of measuring, all finite
 * @param basis - limits in force, or the places of the frames from which they are estimated (baselinePlaces)
 * @returns limits or the reason why there are none (fewer than 25 frames, no variation), and every signal
 */
export function evaluateStream(
  stream: ChartedStream,
  values: readonly number[],
  basis: ControlLimits | readonly number[],
): StreamEvaluation {
  const estimate = isLimits(basis)
    ? ({ ok: true, value: basis } as const)
    : estimateControlLimits(stream, valuesAt(values, basis));
  if (!estimate.ok) return { limits: null, reason: estimate.reason, signals: [], offset: null };
  const limits = estimate.value;
  const found = controlSignals(limits, values);
  const hasAverage = limits.average !== null && found.some(({ rule }) => rule === AVERAGE_RULE);
  const averages = hasAverage ? averagesOf(limits.average, values) : values;
  const signals = found.map((signal) => {
    const value = (signal.rule === AVERAGE_RULE ? averages : values)[signal.index] ?? limits.center;
    return { ...signal, value };
  });
  return { limits, reason: null, signals, offset: null };
}

function isLimits(basis: ControlLimits | readonly number[]): basis is ControlLimits {
  return "center" in basis;
}

/**
 * The same for the alignment offset, which is charted as a vector.
 *
 * @param offsets - µm towards 12 and towards 3, one a frame in the order of measuring
 * @param baseline - places of the frames from which the limits are estimated
 * @returns the evaluation, and T2 of each frame (0 where there are no limits)
 */
export function evaluateOffsetStream(
  offsets: readonly OffsetVector[],
  baseline: readonly number[],
): { readonly evaluation: StreamEvaluation; readonly values: number[] } {
  const estimate = estimateOffsetLimits(valuesAt(offsets, baseline));
  if (!estimate.ok)
    return {
      evaluation: { limits: null, reason: estimate.reason, signals: [], offset: null },
      values: offsets.map(() => 0),
    };
  const offset = estimate.value;
  const { upper, frames, provisional } = offset;
  const signals = offsetSignals(offsets, offset, new Set(baseline)).map((beyond): StreamSignal => ({
    index: beyond.index,
    rule: "t2",
    side: "upper",
    points: [beyond.index],
    value: beyond.t2,
    offset: beyond,
  }));
  const limits: ControlLimits = {
    kind: "quantile",
    center: OFFSET_COMPONENTS,
    sigma: 0,
    lower: null,
    upper,
    rangeCenter: null,
    rangeUpper: null,
    average: null,
    frames,
    provisional,
    method: { code: "offset-vector" },
  };
  return {
    evaluation: { limits, reason: null, signals, offset },
    values: offsets.map((one) => offsetT2(one, offset)),
  };
}
