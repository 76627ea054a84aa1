import "server-only";
import { measureFrame, type FrameMeasurement } from "@/lib/core/metrology/measure-frame";
import {
  judgeFrame,
  type FrameJudgement,
  type JudgedCharacteristic,
  type JudgingDoubt,
} from "@/lib/quality/judge-frame";
import { worstVerdict, type Verdict } from "@/lib/quality/verdict-words";
import type { PlanReference } from "./reference-data";

/** The readings of one inspection, by name, with what is doubted of the gauges that took them. */
export type NamedReadings = {
  readonly plan: PlanReference;
  readonly readings: readonly (number | null)[];
  readonly doubts: readonly JudgingDoubt[];
};

export type Judged = { readonly measurement: FrameMeasurement; readonly judgement: FrameJudgement };

/** Measures and judges one inspection by its own plan. */
export function judgeInspection({ plan, readings, doubts }: NamedReadings): Judged {
  const measurement = measureFrame(plan.compiled, readings);
  return { measurement, judgement: judgeFrame(plan.drawing, plan.compiled, measurement, doubts) };
}

/**
 * Judges a frame by the mean of all its valid inspections, so that measuring again until it fits is no way out: each reading
 * of the newest plan is the mean of that reading over the inspections that have it. A gauge in doubt stays in doubt: its readings
 * are in the mean until the inspection is withdrawn.
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
  return judgeInspection({ plan: newest.plan, readings, doubts: inspections.flatMap((one) => one.doubts) });
}

/** Readings with the operation at which they were taken. */
export type OperationReadings = NamedReadings & { readonly operationId: string };

/** What all valid inspections of a frame say, each operation judged by itself. */
export type FrameEvidenceNow = {
  readonly verdict: Verdict;
  readonly holds: boolean;
  /** Characteristics that do not conform, of all operations. */
  readonly reasons: readonly JudgedCharacteristic[];
  /** The operation with the worst verdict, the newest of several alike, and how many inspections it rests on. */
  readonly shown: Judged & { readonly operationId: string; readonly inspections: number; readonly plan: PlanReference };
};

/**
 * Judges a frame by all its operations: the mean of the inspections of each, and the worst of them all. A good reading after
 * paint takes nothing back that was found after machining.
 *
 * @param inspections - valid inspections of one frame since its last rework, oldest first
 * @returns null where there are none
 */
export function judgeOperations(inspections: readonly OperationReadings[]): FrameEvidenceNow | null {
  const byOperation = new Map<string, OperationReadings[]>();
  for (const one of inspections) {
    const known = byOperation.get(one.operationId) ?? [];
    // Moves to the end, so that the operation measured last comes last.
    byOperation.delete(one.operationId);
    byOperation.set(one.operationId, [...known, one]);
  }
  const judged = [...byOperation].flatMap(([operationId, list]) => {
    const together = judgeTogether(list);
    const newest = list.at(-1);
    return together && newest ? [{ ...together, operationId, inspections: list.length, plan: newest.plan }] : [];
  });
  const verdict = worstVerdict(judged.map((one) => one.judgement.verdict));
  const shown = judged.findLast((one) => one.judgement.verdict === verdict);
  if (!shown) return null;
  return {
    verdict,
    holds: judged.some((one) => one.judgement.holdsFrame),
    reasons: judged.flatMap((one) => one.judgement.characteristics.filter((each) => each.verdict !== "conforms")),
    shown,
  };
}
