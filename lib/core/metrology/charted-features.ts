import { coverageOf } from "./frame-designs";
import { type CompiledMeasurement, featureRow, type FrameMeasurement } from "./measure-frame";
import { type CharacteristicName } from "./shell-drawing";
import { FEATURE_NAMES, featureNamed, type FeatureName } from "./features";
import type { Seat } from "./reading-name";

/** The characteristic whose readings a feature is made of, and its seat; null where it is of both or of the swept one. */
function basisOf(feature: FeatureName): { readonly name: CharacteristicName; readonly seat: Seat | null } {
  const { characteristic, seat } = featureNamed(feature);
  switch (characteristic) {
    case "width":
    case "face run-out":
      return { name: characteristic, seat };
    case "bore":
    case "ovality":
    case "taper":
      return { name: "bore", seat };
    case "tilt":
    case "coaxiality":
      return { name: "tilt", seat: "nds" };
  }
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
