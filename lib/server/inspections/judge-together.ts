import "server-only";
import { measureFrame, type FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import { judgeFrame, type FrameJudgement } from "@/lib/quality/judge-frame";
import type { PlanReference } from "./reference-data";

/** The readings of one inspection, by name. */
export type NamedReadings = { readonly plan: PlanReference; readonly readings: readonly (number | null)[] };

export type Judged = { readonly measurement: FrameMeasurement; readonly judgement: FrameJudgement };

/** Measures and judges one inspection by its own plan. */
export function judgeInspection({ plan, readings }: NamedReadings): Judged {
  const measurement = measureFrame(plan.compiled, readings);
  return { measurement, judgement: judgeFrame(plan.drawing, plan.compiled, measurement) };
}

/**
 * Judges a frame by the mean of all its valid inspections, so that measuring again until it fits is no way out: each reading
 * of the newest plan is the mean of that reading over the inspections that have it.
 *
 * @param inspections - valid inspections of one frame and operation since its last rework, oldest first, at least one
 */
export function judgeTogether(inspections: readonly NamedReadings[]): Judged | null {
  const newest = inspections.at(-1);
  if (!newest) return null;
  if (inspections.length === 1) return judgeInspection(newest);
  const places = inspections.map(({ plan }) => new Map(plan.readingNames.map((name, index) => [name, index])));
  const readings = newest.plan.readingNames.map((name) => {
    let sum = 0;
    let count = 0;
    inspections.forEach((inspection, at) => {
      const index = places[at]?.get(name);
      const value = index === undefined ? null : inspection.readings[index];
      if (value === null || value === undefined) return;
      sum += value;
      count += 1;
    });
    return count === 0 ? null : sum / count;
  });
  return judgeInspection({ plan: newest.plan, readings });
}
