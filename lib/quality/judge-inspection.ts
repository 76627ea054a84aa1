import { measureFrame, type FrameMeasurement } from "../core/metrology/measure-frame";
import type { InspectionEvidence } from "./inspection-evidence";
import { judgeFelt } from "./judge-felt";
import { judgeFrame, judgementOf, type FrameJudgement } from "./judge-frame";

/** What one inspection, or several together, measured and are worth. */
export type Judged = { readonly measurement: FrameMeasurement; readonly judgement: FrameJudgement };

/**
 * Measures and judges one inspection by its own plan and drawing: by its readings, then by what was felt.
 *
 * @throws CoreError length-mismatch; not-finite
 */
export function judgeInspection({ drawing, compiled, readings, felt, doubts }: InspectionEvidence): Judged {
  const measurement = measureFrame(compiled, readings);
  const byNumbers = judgeFrame(drawing, compiled, measurement, doubts);
  const characteristics = judgeFelt({ drawing, compiled, measurement, felt, doubts }, byNumbers.characteristics);
  return { measurement, judgement: { ...judgementOf(characteristics), uncovered: byNumbers.uncovered } };
}
