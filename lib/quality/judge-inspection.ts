import { measureFrame, type FrameMeasurement } from "../core/metrology/measure-frame";
import type { InspectionEvidence } from "./inspection-evidence";
import { inspectionUncertainty } from "./inspection-uncertainty";
import { judgeFelt } from "./judge-felt";
import { judgeFrame, judgementOf, type FrameJudgement } from "./judge-frame";
import { regularityDoubts } from "./regularity-doubts";

/** What one inspection, or several together, measured and are worth. */
export type Judged = { readonly measurement: FrameMeasurement; readonly judgement: FrameJudgement };

/**
 * Measures and judges one inspection by its own plan and drawing: by its readings, then by what was felt.
 *
 * @throws CoreError length-mismatch; not-finite
 */
export function judgeInspection(evidence: InspectionEvidence): Judged {
  const { drawing, readings, offScale, cannot = [], felt, temperatureC, sides } = evidence;
  const compiled = { ...evidence.compiled, covered: inspectionUncertainty(drawing, evidence.compiled, evidence) };
  const measurement = measureFrame(compiled, readings);
  const own = regularityDoubts({ drawing, compiled, readings, temperatureC }, measurement);
  const doubts = [...evidence.doubts, ...own];
  const byNumbers = judgeFrame(drawing, compiled, measurement, doubts, { temperatureC, offScale, cannot });
  const characteristics = judgeFelt(
    { drawing, compiled, measurement, felt, doubts, ...(sides === undefined ? {} : { sides }) },
    byNumbers.characteristics,
  );
  return { measurement, judgement: { ...judgementOf(characteristics), uncovered: byNumbers.uncovered } };
}
