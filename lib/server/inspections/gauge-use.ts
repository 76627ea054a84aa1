import "server-only";
import { suspectSpanAt } from "@/lib/core/metrology/comparator";
import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { isCalibrated } from "@/lib/core/metrology/calibration-in-force";
import { blindnessDoubts, contactPrinciples, zeroDoubts } from "@/lib/quality/gauge-doubts";
import { formatMoment } from "@/lib/format/date-text";
import type { JudgingDoubt } from "@/lib/quality/judge-frame";
import type { FoundOutSpan } from "../gauges/suspect-spans";
import type { GaugeReference, PlanReference, ReferenceData } from "./reference-data";

/** Which gauge took which reading of an inspection, and when. */
export type GaugeUse = {
  readonly gaugeKeys: readonly string[];
  /** Index into gaugeKeys a reading, -1 where none. */
  readonly gauges: readonly number[];
  readonly measuredAt: Date;
  /** From the start to each reading, in ms; [] where nobody knows, and then each is taken at measuredAt. */
  readonly offsetsMs: readonly number[];
};

const NONE: readonly JudgingDoubt[] = [];
/** A plan is measured with few sets of gauges; more than this, and the memory starts again. */
const MOST_SETS = 64;
const blindness = new WeakMap<CompiledMeasurement, Map<string, readonly JudgingDoubt[]>>();

function blindnessOf(
  { compiled, names }: PlanReference,
  gauges: readonly number[],
  known: readonly (GaugeReference | undefined)[],
): readonly JudgingDoubt[] {
  const key = `${known.map((gauge) => `${gauge?.kind} ${gauge?.principle}`).join()}|${gauges.join()}`;
  let sets = blindness.get(compiled);
  const before = sets?.get(key);
  if (before) return before;
  if (!sets || sets.size >= MOST_SETS) {
    sets = new Map();
    blindness.set(compiled, sets);
  }
  const perReading = names.map((_, index) => known[gauges[index] ?? -1] ?? null);
  const made = blindnessDoubts(compiled, contactPrinciples(names, perReading));
  sets.set(key, made.length === 0 ? NONE : made);
  return made;
}

/** Those of some gauges that were out of calibration at a moment: they hold the frame. */
export function overdueAmong(
  gaugeKeys: readonly string[],
  { gauges }: Pick<ReferenceData, "gauges">,
  at: Date,
): readonly string[] {
  return gaugeKeys.filter((key) => !isCalibrated(gauges.get(key)?.calibrations ?? [], at.getTime()));
}

/** What a drifted zero does to the readings of its gauge, in words. */
export function foundOutText(gauge: string, { zeroErrorUm, foundMs, limitUm }: FoundOutSpan, zone: string): string {
  const sign = zeroErrorUm > 0 ? "+" : "−";
  const at = formatMoment(foundMs, { zone });
  return `gauge ${gauge} was ${sign}${Math.abs(zeroErrorUm).toFixed(1)} µm off at its zero check of ${at} (limit ${limitUm} µm)`;
}

/**
 * What is doubted of the gauges of one inspection: lobes that they do not see, a zero that had drifted. Nearly always nothing,
 * and then it costs next to nothing.
 */
export function gaugeDoubts(
  plan: PlanReference,
  { gaugeKeys, gauges, measuredAt, offsetsMs }: GaugeUse,
  reference: Pick<ReferenceData, "gauges" | "zone">,
): readonly JudgingDoubt[] {
  if (gaugeKeys.length === 0) return NONE;
  const known = gaugeKeys.map((key) => reference.gauges.get(key));
  const blind = blindnessOf(plan, gauges, known);
  if (known.every((gauge) => gauge === undefined || gauge.suspect.length === 0)) return blind;
  // A gauge may have been found out, or found good again, half way through: each reading goes by its own time.
  const lastMs = offsetsMs.reduce((last, offset) => Math.max(last, offset), 0);
  const reasons = gauges.map((place, index) => {
    const gauge = known[place];
    if (gauge === undefined) return null;
    const atMs = measuredAt.getTime() - (offsetsMs.length === 0 ? 0 : lastMs - (offsetsMs[index] ?? lastMs));
    const span = suspectSpanAt(gauge.suspect, atMs) as FoundOutSpan | null;
    return span === null ? null : foundOutText(gauge.key, span, reference.zone);
  });
  return [...zeroDoubts(plan.compiled, reasons), ...blind];
}
