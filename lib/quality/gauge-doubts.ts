import { type GaugePrinciple, unseenLobes } from "../core/metrology/gauge-blindness";
import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { ReadingName } from "../core/metrology/reading-name";
import type { JudgingDoubt } from "./judge-frame";

function lobesText(lobes: readonly number[]): string {
  return lobes.length === 1 ? `lobes of order ${lobes[0]}` : `lobes of orders ${lobes.join(", ")}`;
}

/** What a plant knows of one of its gauges, in the words of its set-up. */
export type KnownGauge = { readonly kind: string; readonly principle: string };

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
  if (name.kind === "sweep") return `sweep ${name.seat} ${name.depthMm}`;
  return name.kind === "face" ? `face ${name.seat}` : null;
}

/**
 * Contact principle behind each reading of a plan.
 *
 * @param names - the plan's readings
 * @param gauges - the gauge of each reading, null where none is known
 * @returns null where the gauge is unknown, or is entered as a gauge for another kind of reading: then nothing is doubted
 */
export function contactPrinciples(
  names: readonly ReadingName[],
  gauges: readonly (KnownGauge | null)[],
): (GaugePrinciple | null)[] {
  const angles = sweptAngles(names);
  return names.map((name, index) => {
    const gauge = gauges[index] ?? null;
    if (gauge === null || gauge.kind !== name.kind) return null;
    if (gauge.principle === "indicator") {
      const key = sweepKey(name);
      return key === null ? null : { kind: "indicator-sweep", angles: angles.get(key)?.size ?? 0 };
    }
    if (name.kind !== "bore") return null;
    return gauge.principle === "two-point" || gauge.principle === "three-point" ? { kind: gauge.principle } : null;
  });
}

/**
 * Doubts from what the gauges cannot see (numbers.md A11): only a lobe that the characteristic needs and no gauge of its
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
    return [{ name, seat, alsoFailure: false, code: "blind", reason: `the gauge does not see ${lobesText(unseen)}` }];
  });
}

/**
 * Doubts from gauges whose zero had drifted when the readings were taken (numbers.md A12).
 *
 * @param suspect - for each reading the reason why it is in doubt, null where it is not
 */
export function zeroDoubts(compiled: CompiledMeasurement, suspect: readonly (string | null)[]): JudgingDoubt[] {
  return compiled.covered.flatMap(({ name, seat, indices }) => {
    const reason = indices.map((index) => suspect[index] ?? null).find((text) => text !== null) ?? null;
    return reason === null ? [] : [{ name, seat, reason, alsoFailure: true, code: "zero-drifted" }];
  });
}
