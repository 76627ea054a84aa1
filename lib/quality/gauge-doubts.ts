import { clippedReadings, type ClippedReadings } from "../core/metrology/clipped-sweep";
import { type GaugePrinciple, unseenLobes } from "../core/metrology/gauge-blindness";
import { type GaugeRange, reachesLimits, takesReading } from "../core/metrology/gauge-range";
import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { ReadingName } from "../core/metrology/reading-name";
import { sweepKeysOf } from "../core/metrology/reading-plausibility";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import type { DoubtCode, JudgingDoubt } from "./judging-doubt";
import type { ClippedReason, DoubtReason } from "./judging-reason";

/** What a plant knows of one of its gauges, in the words of its set-up. */
export type KnownGauge = { readonly kind: string; readonly principle: string };

/** The gauge that took a reading, as far as it is known what it can measure. */
export type UsedGauge = KnownGauge & {
  readonly key: string;
  /** Null where nobody entered it. */
  readonly range: GaugeRange | null;
  readonly resolutionUm: number | null;
};

/** Distinct angles of each sweep of a plan, by seat and depth (or face). */
function sweptAngles(names: readonly ReadingName[]): Map<string, Set<number>> {
  const angles = new Map<string, Set<number>>();
  for (const name of names) {
    const key = sweepKey(name);
    if (key === null || (name.kind !== "sweep" && name.kind !== "face")) continue;
    const known = angles.get(key) ?? new Set<number>();
    known.add(name.angleDeg % 360);
    angles.set(key, known);
  }
  return angles;
}

function sweepKey(name: ReadingName): string | null {
  if (name.kind === "sweep") return `sweep.${name.seat}.${name.depthMm}`;
  return name.kind === "face" ? `face.${name.seat}` : null;
}

/**
 * Contact principle behind each reading of a plan.
 *
 * @param names - the plan's readings
 * @param gauges - the gauge of each reading, null where none is known
 * @returns null where the gauge is unknown, or cannot take that kind of reading: then nobody asks what it sees
 */
export function contactPrinciples(
  names: readonly ReadingName[],
  gauges: readonly (KnownGauge | null)[],
): (GaugePrinciple | null)[] {
  const angles = sweptAngles(names);
  return names.map((name, index) => {
    const gauge = gauges[index] ?? null;
    if (gauge === null || !takesReading(gauge, name.kind)) return null;
    if (gauge.principle === "indicator") {
      const key = sweepKey(name);
      return key === null ? null : { kind: "indicator-sweep", angles: angles.get(key)?.size ?? 0 };
    }
    if (name.kind !== "bore") return null;
    return gauge.principle === "two-point" || gauge.principle === "three-point" ? { kind: gauge.principle } : null;
  });
}

/**
 * Doubts from what the gauges cannot see: only a lobe that the characteristic needs and no gauge of its
 * readings sees.
 *
 * @param compiled - plan as compiled
 * @param principles - contact principle of each reading's gauge, null where it has none or is unknown
 */
export function blindnessDoubts(
  compiled: CompiledMeasurement,
  principles: readonly (GaugePrinciple | null)[],
): JudgingDoubt[] {
  return compiled.covered.flatMap(({ name, seat, indices }) => {
    const gauges = indices.flatMap((index) => principles[index] ?? []);
    if (gauges.length === 0) return [];
    const unseen = unseenLobes(name, gauges);
    if (unseen.length === 0) return [];
    return [{ name, seat, alsoFailure: false, code: "blind", reason: { code: "unseen-lobes", lobes: unseen } }];
  });
}

/**
 * Doubts from gauges whose zero had drifted when the readings were taken.
 *
 * @param suspect - for each reading the reason why it is in doubt, null where it is not
 */
export function zeroDoubts(compiled: CompiledMeasurement, suspect: readonly (string | null)[]): JudgingDoubt[] {
  return compiled.covered.flatMap(({ name, seat, indices }): JudgingDoubt[] => {
    const why = indices.map((index) => suspect[index] ?? null).find((text) => text !== null) ?? null;
    if (why === null) return [];
    return [{ name, seat, reason: { code: "zero-drifted", why }, alsoFailure: true, code: "zero-drifted" }];
  });
}

/** Why a reading proves nothing by what took it, or null. */
type WhyNot = { readonly code: DoubtCode; readonly reason: DoubtReason } | null;

function whyNot(name: ReadingName, gauge: UsedGauge | null, drawing: ShellDrawing): WhyNot {
  if (gauge === null) return { code: "no-gauge", reason: { code: "no-gauge" } };
  if (!takesReading(gauge, name.kind))
    return {
      code: "wrong-gauge",
      reason: { code: "wrong-gauge", gauge: gauge.key, principle: gauge.principle, kind: name.kind },
    };
  if (name.kind !== "bore" && name.kind !== "width") return null;
  const limits = drawing.characteristics.find((one) => one.name === name.kind);
  if (limits === undefined || gauge.range === null || reachesLimits(gauge.range, limits)) return null;
  const { key, range } = gauge;
  return { code: "gauge-range", reason: { code: "gauge-range", gauge: key, rangeMm: range, limits } };
}

/**
 * Doubts from what took the readings: no gauge named, one whose principle or range cannot measure that feature. They hold,
 * since such readings prove nothing, neither that a shell is good nor that it is bad.
 *
 * @param taken - whether there is something that a gauge must have said: a value, a word, or that it is off the scale
 */
export function gaugeUseDoubts(
  compiled: CompiledMeasurement,
  drawing: ShellDrawing,
  gauges: readonly (UsedGauge | null)[],
  taken: readonly boolean[],
): JudgingDoubt[] {
  const reasons = compiled.names.map((name, index) =>
    taken[index] === true ? whyNot(name, gauges[index] ?? null, drawing) : null,
  );
  if (reasons.every((reason) => reason === null)) return [];
  return compiled.covered.flatMap(({ name, seat, indices }): JudgingDoubt[] => {
    const places = indices.filter((index) => (reasons[index] ?? null) !== null);
    const first = reasons[places[0] ?? -1] ?? null;
    return first === null ? [] : [{ name, seat, ...first, alsoFailure: true, holds: true, readings: places }];
  });
}

/**
 * Doubts from comparators that had neither been shown their ring nor calibrated when the readings were taken.
 *
 * @param unchecked - for each reading the key of such a gauge, null where it was checked or needs no check
 */
export function neverCheckedDoubts(
  compiled: CompiledMeasurement,
  unchecked: readonly (string | null)[],
): JudgingDoubt[] {
  if (unchecked.every((key) => key === null)) return [];
  return compiled.covered.flatMap(({ name, seat, indices }): JudgingDoubt[] => {
    const key = indices.map((index) => unchecked[index] ?? null).find((one) => one !== null);
    if (key === undefined || key === null) return [];
    const reason = { code: "never-checked", gauge: key } as const;
    return [{ name, seat, reason, code: "never-checked", alsoFailure: true, holds: true }];
  });
}

/** Readings of one sweep that the end of the indicator’s travel cut off, by their places in the plan. */
export type ClippedSweep = ClippedReadings & { readonly kind: "sweep" | "face"; readonly gauge: string | null };

/**
 * Sweeps and faces whose readings the end of the indicator’s travel cut off.
 *
 * @param values - one a reading, µm of the indicator; null where it was not taken
 */
export function clippedSweeps(
  names: readonly ReadingName[],
  values: readonly (number | null)[],
  gauges: readonly (UsedGauge | null)[],
): ClippedSweep[] {
  const sweeps = new Map<string, number[]>();
  sweepKeysOf(names).forEach((key, index) => {
    if (key === null || (values[index] ?? null) === null) return;
    const known = sweeps.get(key);
    if (known === undefined) sweeps.set(key, [index]);
    else known.push(index);
  });
  return [...sweeps.values()].flatMap((indices) => {
    const readings = indices.flatMap((index) => {
      const name = names[index];
      const value = values[index] ?? null;
      return value === null || (name?.kind !== "sweep" && name?.kind !== "face")
        ? []
        : [{ angleDeg: name.angleDeg, value }];
    });
    const gauge = gauges[indices[0] ?? -1] ?? null;
    const known = gauge !== null && takesReading(gauge, "sweep") ? gauge : null;
    const indicator = { range: known?.range ?? null, resolutionUm: known?.resolutionUm ?? null };
    const kind = names[indices[0] ?? -1]?.kind === "face" ? ("face" as const) : ("sweep" as const);
    return clippedReadings(readings, indicator).map((one) => ({
      ...one,
      kind,
      gauge: known?.key ?? null,
      places: one.places.flatMap((place) => indices[place] ?? []),
    }));
  });
}

/** What was cut off. */
export function clippedReason({ places, atUm, kind }: Pick<ClippedSweep, "places" | "atUm" | "kind">): ClippedReason {
  return { code: "travel-clipped", readings: places.length, atUm, kind };
}

/** Doubts from sweeps that the end of the indicator’s travel cut off: the surface went further than the needle. */
export function clippedDoubts(compiled: CompiledMeasurement, clipped: readonly ClippedSweep[]): JudgingDoubt[] {
  if (clipped.length === 0) return [];
  return compiled.covered.flatMap(({ name, seat, indices }): JudgingDoubt[] => {
    const found = clipped.find(({ places }) => places.some((place) => indices.includes(place)));
    if (found === undefined) return [];
    const { places } = found;
    return [
      {
        name,
        seat,
        reason: clippedReason(found),
        code: "travel-clipped",
        alsoFailure: true,
        holds: true,
        readings: places,
      },
    ];
  });
}
