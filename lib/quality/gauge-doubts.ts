import { type GaugePrinciple, unseenLobes } from "../core/metrology/gauge-blindness";
import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { JudgingDoubt } from "./judge-frame";

function lobesText(lobes: readonly number[]): string {
  return lobes.length === 1 ? `lobes of order ${lobes[0]}` : `lobes of orders ${lobes.join(", ")}`;
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
    return [{ name, seat, alsoFailure: false, reason: `the gauge does not see ${lobesText(unseen)}` }];
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
    return reason === null ? [] : [{ name, seat, reason, alsoFailure: true }];
  });
}
