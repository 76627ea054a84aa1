import "server-only";
import { type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { characteristicOf, featureNamed, type FeatureName } from "@/lib/core/metrology/features";

/** Limits of the characteristic behind a stream, in its unit. */
export type StreamTolerance = {
  readonly lower: number | null;
  readonly upper: number | null;
  readonly uncertainty: number;
};

/** The limits that a drawing gives a charted feature; null where it carries none. */
export function toleranceOf(drawing: ShellDrawing, feature: FeatureName): StreamTolerance | null {
  const { characteristic, statistic } = featureNamed(feature);
  const judged = statistic === "mean" ? characteristic : (characteristicOf(feature)?.name ?? null);
  const found = drawing.characteristics.find((one) => one.name === judged);
  return found === undefined ? null : { lower: found.lower, upper: found.upper, uncertainty: found.uncertainty };
}
