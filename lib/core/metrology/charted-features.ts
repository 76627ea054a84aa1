import { coverageOf } from "./frame-designs";
import { type CompiledMeasurement, featureRow, type FrameMeasurement } from "./measure-frame";
import { type CharacteristicName, FEATURE_NAMES, type FeatureName } from "./shell-drawing";
import type { Seat } from "./reading-name";

/** The characteristic whose readings a feature is made of, and its seat; null where it is of both or of the swept one. */
function basisOf(feature: FeatureName): { readonly name: CharacteristicName; readonly seat: Seat | null } {
  const seat = feature.startsWith("nds.") ? "nds" : feature.startsWith("ds.") ? "ds" : null;
  if (feature.startsWith("width")) return { name: "width", seat: null };
  if (feature.endsWith(".face")) return { name: "face run-out", seat };
  if (seat !== null && !feature.endsWith(".tilt")) return { name: "bore", seat };
  return { name: "tilt", seat: "nds" };
}

/**
 * The features of one inspection for charts, limits and change points: null where a feature rests on a reading that was
 * confirmed after a question, or that was off the scale. One odd value would move limits that stand for hundreds of frames.
 *
 * @param odd - whether each reading of the plan is odd
 * @returns one number or null per FEATURE_NAMES, in that order
 */
export function chartedRow(
  compiled: CompiledMeasurement,
  measurement: FrameMeasurement,
  odd: readonly boolean[],
): (number | null)[] {
  const row = featureRow(measurement);
  if (!odd.includes(true)) return row;
  const coverage = coverageOf(compiled.designs);
  return FEATURE_NAMES.map((feature, place) => {
    const { name, seat } = basisOf(feature);
    const indices = coverage.find((one) => one.name === name && one.seat === seat)?.indices ?? [];
    return indices.some((index) => odd[index] === true) ? null : (row[place] ?? null);
  });
}
