import type { FrameMeasurement } from "../core/metrology/measure-frame";
import type { JudgingDoubt } from "./judging-doubt";
import { rejectedReadingDoubts } from "./rejected-reading-doubts";
import { sweepDoubts, type Regularity } from "./sweep-doubts";
import { temperatureDoubts } from "./temperature-rule";

/**
 * What the measurement itself casts doubt on: sweeps that slipped or do not close, a failure that hangs on one
 * reading which the others reject, a shell too warm or too cold.
 *
 * @param regularity - drawing, plan with the U of this inspection, and readings
 * @param measurement - from measureFrame with the same plan and readings
 */
export function regularityDoubts(
  regularity: Regularity & { readonly temperatureC: number | null },
  measurement: FrameMeasurement,
): JudgingDoubt[] {
  return [
    ...temperatureDoubts(regularity.compiled, regularity.temperatureC),
    ...sweepDoubts(regularity, measurement),
    ...rejectedReadingDoubts(regularity, measurement),
  ];
}
