import { measureFrame, type FrameMeasurement } from "../core/metrology/measure-frame";
import type { InspectionEvidence } from "./inspection-evidence";
import { judgeFrame, type FrameJudgement } from "./judge-frame";

/** What one inspection, or several together, measured and are worth. */
export type Judged = { readonly measurement: FrameMeasurement; readonly judgement: FrameJudgement };

/**
 * Measures and judges one inspection by its own plan and drawing.
 *
 * @throws CoreError length-mismatch; not-finite
 */
export function judgeInspection({ drawing, compiled, readings, doubts }: InspectionEvidence): Judged {
  const measurement = measureFrame(compiled, readings);
  return { measurement, judgement: judgeFrame(drawing, compiled, measurement, doubts) };
}
