import "server-only";
import { characteristicOf, type FeatureName, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";

/** Limits of the characteristic behind a stream, in its unit. */
export type StreamTolerance = {
  readonly lower: number | null;
  readonly upper: number | null;
  readonly uncertainty: number;
};

/** The limits that a drawing gives a charted feature; null where it carries none. */
export function toleranceOf(drawing: ShellDrawing, feature: FeatureName): StreamTolerance | null {
  const judged =
    characteristicOf(feature)?.name ??
    (feature.includes("bore.mean") ? "bore" : feature === "width.mean" ? "width" : null);
  const found = drawing.characteristics.find((one) => one.name === judged);
  return found === undefined ? null : { lower: found.lower, upper: found.upper, uncertainty: found.uncertainty };
}
