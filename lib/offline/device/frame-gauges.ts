import { type SuspectSpan, suspectSpanAt, suspectSpans, type ZeroCheck } from "@/lib/core/metrology/comparator";
import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { formatDeviationUm } from "@/lib/format/number-text";
import {
  blindnessDoubts,
  clippedDoubts,
  clippedSweeps,
  contactPrinciples,
  gaugeUseDoubts,
  neverCheckedDoubts,
  type UsedGauge,
  zeroDoubts,
} from "@/lib/quality/gauge-doubts";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import type { JudgingDoubt } from "@/lib/quality/judging-doubt";
import type { StationGauge, StationKit } from "@/lib/schemas/station-package";
import type { GaugeDoubts } from "./gauge-doubts";
import { isOverdue } from "./station-gauges";
import { checkedAtMs, type DeviceZeroCheck, type GaugeUse, UNUSED } from "./zero-check";

/** A reading's gauge by its key, null where none, what it showed, and when, by the server's clock as far as it is known. */
export type GaugedReading = {
  readonly gauge: string | null;
  readonly atMs: number;
  /** Null where it was not taken, has a word instead, or lies off the scale. */
  readonly value: number | null;
  /** There is something that a gauge must have said. */
  readonly taken: boolean;
};

/** What a device knows of a gauge, as judging takes it. */
export function usedGauge(gauge: StationGauge): UsedGauge {
  const { key, kind, principle, range = null, resolutionUm } = gauge;
  return { key, kind, principle, range, resolutionUm };
}

/** A comparator that had neither been shown its ring nor calibrated at a moment, as far as this device knows. */
function isUnchecked(gauge: StationGauge, own: readonly DeviceZeroCheck[], atMs: number): boolean {
  if (gauge.kind !== "bore" && !gauge.zero) return false;
  const lastGoodAt = gauge.zero?.lastGoodAt ?? null;
  const isChecked =
    lastGoodAt !== null || own.some((check) => check.gauge === gauge.key && check.passed && checkedAtMs(check) <= atMs);
  return !isChecked && (gauge.calibrations?.every((one) => one.atMs > atMs) ?? gauge.calibratedUntil === null);
}

/** Times whose readings a drifted zero of the gauge makes not proven, from what the server said and this device's own checks. */
function suspectTimes(
  { key, ringMm, zero, calibrations = [] }: StationGauge,
  own: readonly DeviceZeroCheck[],
): readonly SuspectSpan[] {
  if (!zero || ringMm === null) return [];
  const known: ZeroCheck[] = own
    .filter((check) => check.gauge === key)
    .map((check) => ({ ...check, atMs: checkedAtMs(check) }));
  const { lastAt, lastGoodAt, lastDriftUm } = zero;
  if (lastGoodAt !== null) known.push({ atMs: Date.parse(lastGoodAt), certifiedMm: ringMm, readingMm: ringMm });
  if (lastAt !== null && lastAt !== lastGoodAt)
    known.push({ atMs: Date.parse(lastAt), certifiedMm: ringMm, readingMm: ringMm + (lastDriftUm ?? 0) / 1000 });
  return suspectSpans(
    known,
    zero.limitUm,
    calibrations.map(({ atMs }) => atMs),
  );
}

/**
 * What is doubted of the gauges of one inspection, as far as this device knows: none named, one that cannot measure that
 * feature, lobes that they do not see, a zero that had drifted or was never checked, a needle at its stop, a calibration that
 * ran out. The server, which knows every check, decides.
 */
export function gaugeDoubtsOf(
  compiled: CompiledMeasurement,
  drawing: ShellDrawing,
  readings: readonly GaugedReading[],
  kit: StationKit | null,
  checks: readonly DeviceZeroCheck[],
): GaugeDoubts {
  const known = new Map((kit?.gauges ?? []).map((gauge) => [gauge.key, gauge]));
  const perReading = readings.map(({ gauge }) => (gauge === null ? null : (known.get(gauge) ?? null)));
  const used = [...new Set(perReading)].filter((gauge) => gauge !== null);
  const suspect = new Map(used.map((gauge) => [gauge.key, suspectTimes(gauge, checks)]));
  const drifted = readings.map(({ gauge, atMs }) => {
    const span = gauge === null ? null : suspectSpanAt(suspect.get(gauge) ?? [], atMs);
    return span === null ? null : `gauge ${gauge} was ${formatDeviationUm(span.zeroErrorUm, 1)} off at its zero check`;
  });
  const unchecked = readings.map(({ gauge, atMs }, index) => {
    const found = perReading[index] ?? null;
    return found !== null && isUnchecked(found, checks, atMs) ? gauge : null;
  });
  // A gauge that was taken from the station meanwhile is no reason for doubt here: the server knows it.
  const withGauge = readings.map(({ gauge }, index) => gauge === null || (perReading[index] ?? null) !== null);
  const gauges = perReading.map((gauge) => (gauge === null ? null : usedGauge(gauge)));
  const taken = readings.map((reading, index) => reading.taken && withGauge[index] === true);
  const values = readings.map(({ value }) => value);
  const lastMs = Math.max(0, ...readings.map(({ atMs }) => atMs));
  return {
    doubts: [
      ...gaugeUseDoubts(compiled, drawing, gauges, taken),
      ...zeroDoubts(compiled, drifted),
      ...neverCheckedDoubts(compiled, unchecked),
      ...clippedDoubts(compiled, clippedSweeps(compiled.names, values, gauges)),
      ...blindnessDoubts(compiled, contactPrinciples(compiled.names, perReading)),
    ],
    overdue: used.filter((gauge) => isOverdue(gauge, lastMs)).map(({ key }) => key),
  };
}

/** Counts a finished frame for the gauges that measured it. */
export function withFrameMeasured(
  use: Readonly<Record<string, GaugeUse>>,
  frame: { readonly serial: string; readonly gauges: readonly (string | null)[]; readonly endsBatch: boolean },
): Readonly<Record<string, GaugeUse>> {
  const next = { ...use };
  for (const key of new Set(frame.gauges)) {
    if (key === null) continue;
    const before = next[key] ?? UNUSED;
    next[key] = {
      ...before,
      frames: before.frames + 1,
      batchEnded: before.batchEnded || frame.endsBatch,
      serials: [...before.serials.filter((serial) => serial !== frame.serial), frame.serial],
    };
  }
  return next;
}
