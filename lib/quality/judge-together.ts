import type { InspectionEvidence } from "./inspection-evidence";
import type { JudgedCharacteristic } from "./judge-frame";
import { judgeInspection, type Judged } from "./judge-inspection";
import { worstVerdict, type Verdict } from "./verdict-words";

/**
 * Judges a frame by the mean of all its valid inspections, so that measuring again until it fits is no way out: each reading
 * of the newest plan is the mean of that reading over the inspections that have it. A gauge in doubt stays in doubt: its readings
 * are in the mean until the inspection is withdrawn.
 *
 * @param inspections - valid inspections of one frame and operation since its last rework, oldest first, at least one
 */
export function judgeTogether(inspections: readonly InspectionEvidence[]): Judged | null {
  const newest = inspections.at(-1);
  if (!newest) return null;
  if (inspections.length === 1) return judgeInspection(newest);
  const places = inspections.map(({ compiled }) => new Map(compiled.labels.map((label, index) => [label, index])));
  const readings = newest.compiled.labels.map((label) => {
    let sum = 0;
    let count = 0;
    inspections.forEach((inspection, at) => {
      const index = places[at]?.get(label);
      const value = index === undefined ? null : inspection.readings[index];
      if (value === null || value === undefined) return;
      sum += value;
      count += 1;
    });
    return count === 0 ? null : sum / count;
  });
  return judgeInspection({ ...newest, readings, doubts: inspections.flatMap((one) => one.doubts) });
}

/** An inspection with the operation at which it was made. */
export type OperationEvidence = InspectionEvidence & { readonly operationId: string };

/** What all valid inspections of a frame say, each operation judged by itself. */
export type FrameEvidenceNow<One extends OperationEvidence> = {
  readonly verdict: Verdict;
  readonly holds: boolean;
  /** Characteristics that do not conform, of all operations. */
  readonly reasons: readonly JudgedCharacteristic[];
  /** The operation with the worst verdict, the newest of several alike, and how many inspections it rests on. */
  readonly shown: Judged & { readonly operationId: string; readonly inspections: number; readonly newest: One };
};

/**
 * Judges a frame by all its operations: the inspections of each together, and the worst of them all. A good reading after paint
 * takes nothing back that was found after machining.
 *
 * @param inspections - valid inspections of one frame since its last rework, oldest first
 * @returns null where there are none
 */
export function judgeOperations<One extends OperationEvidence>(
  inspections: readonly One[],
): FrameEvidenceNow<One> | null {
  const byOperation = new Map<string, One[]>();
  for (const one of inspections) {
    const known = byOperation.get(one.operationId) ?? [];
    // Moves to the end, so that the operation measured last comes last.
    byOperation.delete(one.operationId);
    byOperation.set(one.operationId, known);
    known.push(one);
  }
  const judged = [...byOperation].flatMap(([operationId, list]) => {
    const together = judgeTogether(list);
    const newest = list.at(-1);
    return together && newest ? [{ ...together, operationId, inspections: list.length, newest }] : [];
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
