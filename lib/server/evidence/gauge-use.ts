import "server-only";
import { formatFixed } from "@/lib/format/number-text";
import { suspectSpanAt } from "@/lib/core/metrology/comparator";
import type { CompiledMeasurement } from "@/lib/core/metrology/measure-frame";
import { isCalibrated } from "@/lib/core/metrology/calibration-in-force";
import {
  blindnessDoubts,
  clippedDoubts,
  clippedSweeps,
  contactPrinciples,
  gaugeUseDoubts,
  neverCheckedDoubts,
  zeroDoubts,
} from "@/lib/quality/gauge-doubts";
import { formatReadingName, parseReadingName } from "@/lib/core/metrology/reading-name";
import { formatMoment } from "@/lib/format/date-text";
import type { EvidenceAttributes } from "@/lib/quality/inspection-evidence";
import type { JudgingDoubt } from "@/lib/quality/judging-doubt";
import { offScaleOf } from "@/lib/schemas/inspection";
import type { FoundOutSpan } from "./suspect-spans";
import type { GaugeReference, PlanReference, ReferenceData } from "./reference-data";
import { EVIDENCE_WORDS } from "./words";

const words = EVIDENCE_WORDS.gaugeUse;

/** Which gauge took which reading of an inspection, and when. */
export type GaugeUse = {
  readonly gaugeKeys: readonly string[];
  /** Index into gaugeKeys a reading, -1 where none; [] where no gauge was named. */
  readonly gauges: readonly number[];
  readonly measuredAt: Date;
  /** From the start to each reading, in ms; [] where nobody knows, and then each is taken at measuredAt. */
  readonly offsetsMs: readonly number[];
};

/** What the gauges took: one a reading, in the order of the plan. */
export type TakenReadings = {
  readonly readings: readonly (number | null)[];
  /** As the row keeps them. */
  readonly states: readonly number[];
  /** Plugs and bar, which have words instead of numbers. */
  readonly attributes: EvidenceAttributes;
};

const NONE: readonly JudgingDoubt[] = [];
/** A plan is measured with few sets of gauges; more than this, and the memory starts again. */
const MOST_SETS = 64;
const standing = new WeakMap<CompiledMeasurement, Map<string, StandingDoubts>>();

type StandingDoubts = { readonly use: readonly JudgingDoubt[]; readonly blind: readonly JudgingDoubt[] };
type Known = readonly (GaugeReference | undefined)[];

const measures = new WeakMap<GaugeReference, string>();

/** A gauge as far as what it can measure depends on it: the same text, the same doubts. */
function measuresAs(gauge: GaugeReference | undefined): string {
  if (gauge === undefined) return "unknown";
  const before = measures.get(gauge);
  if (before !== undefined) return before;
  const { key, kind, principle, range } = gauge;
  const text = `${key} ${kind} ${principle} ${range?.lower} ${range?.upper}`;
  measures.set(gauge, text);
  return text;
}

/** Doubts that do not depend on what was read: no gauge, a wrong one, lobes that it does not see. */
function standingDoubts(
  { compiled, drawing, names }: PlanReference,
  gauges: readonly number[],
  known: Known,
  taken: readonly boolean[],
): StandingDoubts {
  let key = known.map(measuresAs).join();
  for (let index = 0; index < taken.length; index += 1) key += ` ${gauges[index] ?? -1}${taken[index] ? "+" : "-"}`;
  let sets = standing.get(compiled);
  const before = sets?.get(key);
  if (before) return before;
  if (!sets || sets.size >= MOST_SETS) {
    sets = new Map();
    standing.set(compiled, sets);
  }
  const perReading = names.map((_, index) => known[gauges[index] ?? -1] ?? null);
  const made = {
    use: gaugeUseDoubts(compiled, drawing, perReading, taken),
    blind: blindnessDoubts(compiled, contactPrinciples(names, perReading)),
  };
  sets.set(key, made);
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
  return words.gaugeWasUmOff(gauge, sign, formatFixed(Math.abs(zeroErrorUm), 1), at, limitUm);
}

/** Names of the plugs and bars that were tried, as plans spell them; null where none were, which is nearly always. */
function feltLabels({ plugs, bars }: EvidenceAttributes): ReadonlySet<string> | null {
  if (plugs === undefined && bars === undefined) return null;
  const names = [...Object.keys(plugs ?? {}), ...Object.keys(bars ?? {})].map(parseReadingName);
  return new Set(names.flatMap((name) => (name.ok ? [formatReadingName(name.value)] : [])));
}

const longest = (offsetsMs: readonly number[]): number => offsetsMs.reduce((last, one) => Math.max(last, one), 0);

/** When each reading was taken, ms since 1970. */
function takenAtMs({ measuredAt, offsetsMs }: GaugeUse, count: number): readonly number[] {
  const lastMs = longest(offsetsMs);
  return Array.from({ length: count }, (_, index) =>
    offsetsMs.length === 0 ? measuredAt.getTime() : measuredAt.getTime() - lastMs + (offsetsMs[index] ?? lastMs),
  );
}

/**
 * What is doubted of the gauges of one inspection: none named, one that cannot measure that feature or was never checked, a zero
 * that had drifted, a needle at the end of its travel, lobes that they do not see. Nearly always nothing, and then it costs
 * next to nothing.
 */
export function gaugeDoubts(
  plan: PlanReference,
  use: GaugeUse,
  { readings, states, attributes }: TakenReadings,
  reference: Pick<ReferenceData, "gauges" | "zone">,
): readonly JudgingDoubt[] {
  const { compiled, names } = plan;
  const { gaugeKeys, gauges } = use;
  const known = gaugeKeys.map((key) => reference.gauges.get(key));
  const felt = feltLabels(attributes);
  const taken = names.map(
    (_, index) =>
      (readings[index] ?? null) !== null ||
      offScaleOf(states[index]) !== null ||
      felt?.has(compiled.labels[index] ?? "") === true,
  );
  const fixed = standingDoubts(plan, gauges, known, taken);
  const doubts: JudgingDoubt[] = [...fixed.use];
  const firstMs = use.measuredAt.getTime() - longest(use.offsetsMs);
  const isSure = (gauge: GaugeReference | undefined): boolean =>
    gauge === undefined ||
    (gauge.suspect.length === 0 && (!gauge.isComparator || (gauge.firstGoodMs ?? Infinity) <= firstMs));
  if (!known.every(isSure)) {
    // A gauge may have been found out, or found good again, half way through: each reading goes by its own time.
    const times = takenAtMs(use, names.length);
    const gaugeOf = (index: number) => known[gauges[index] ?? -1];
    const unchecked = times.map((atMs, index) => {
      const gauge = gaugeOf(index);
      return gauge?.isComparator === true && atMs < (gauge.firstGoodMs ?? Infinity) ? gauge.key : null;
    });
    const drifted = times.map((atMs, index) => {
      const gauge = gaugeOf(index);
      const span = gauge === undefined ? null : (suspectSpanAt(gauge.suspect, atMs) as FoundOutSpan | null);
      return span === null || gauge === undefined ? null : foundOutText(gauge.key, span, reference.zone);
    });
    doubts.push(...zeroDoubts(compiled, drifted), ...neverCheckedDoubts(compiled, unchecked));
  }
  const perReading = names.map((_, index) => known[gauges[index] ?? -1] ?? null);
  doubts.push(...clippedDoubts(compiled, clippedSweeps(names, readings, perReading)), ...fixed.blind);
  return doubts.length === 0 ? NONE : doubts;
}
