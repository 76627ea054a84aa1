import type { CompiledMeasurement } from "../core/metrology/measure-frame";
import type { ShellDrawing } from "../core/metrology/shell-drawing";
import { notMeasured } from "./combine-inspections";
import { isFeltContradiction } from "./felt-sides";
import type { InspectionEvidence } from "./inspection-evidence";
import type { JudgedCharacteristic } from "./judge-frame";
import { judgeInspection, type Judged } from "./judge-inspection";
import {
  type AskedEvidence,
  type FeltContradiction,
  type JudgedTogether,
  keyOf,
  OperationJudging,
  remembered,
  summed,
} from "./judge-together";
import { type Verdict, worstVerdict } from "./verdict-words";

/** An inspection with the operation at which it was made. */
export type OperationEvidence = InspectionEvidence & { readonly operationId: string };

/** What all valid inspections of a frame say, each operation judged by itself. */
export type FrameEvidenceNow<One extends OperationEvidence> = {
  readonly verdict: Verdict;
  readonly holds: boolean;
  /** Characteristics that do not conform, of all operations. */
  readonly reasons: readonly JudgedCharacteristic[];
  /** Operations of which two inspections disagree on something, or feeling and reading contradict each other. */
  readonly disagreeing: readonly string[];
  /** Inspections of which what was felt and what was read contradict each other, all operations. */
  readonly contradicting: readonly FeltContradiction[];
  /** The operation with the worst verdict, the newest of several alike, and how many inspections it rests on. */
  readonly shown: JudgedTogether<One> & { readonly operationId: string; readonly inspections: number };
};

type Operation<One extends OperationEvidence> = FrameEvidenceNow<One>["shown"];

/**
 * Characteristics that the batch's plan asks for and no operation measured as it asks. Where an inspection counts as a whole,
 * the plan is content with what that inspection's plan asks for.
 */
function lackingInFrame<One extends OperationEvidence>(
  operations: readonly Operation<One>[],
  asked: AskedEvidence | null,
): JudgedCharacteristic[] {
  if (asked === null) return [];
  const known = new Set(operations.flatMap(({ judgement }) => judgement.characteristics.map(keyOf)));
  const reason = { code: "asked-not-measured", plan: asked.plan } as const;
  return judgeNothing(asked)
    .filter((one) => !known.has(keyOf(one)))
    .map((one) => notMeasured(one, reason));
}

const askedBefore = new WeakMap<CompiledMeasurement, Map<ShellDrawing, Judged>>();

/** The characteristics of a plan before anything was measured. */
function judgeNothing({ drawing, compiled }: AskedEvidence): readonly JudgedCharacteristic[] {
  const judged = remembered(askedBefore, compiled, drawing, () =>
    judgeInspection({
      key: "",
      label: "",
      drawing,
      compiled,
      readings: compiled.names.map(() => null),
      offScale: [],
      felt: null,
      temperatureC: null,
      doubts: [],
      planCounts: true,
    }),
  );
  return judged.judgement.characteristics;
}

/** Takes back that one operation measured less than is asked where another measured it as the plan asks. */
function asFarAsElsewhere<One extends OperationEvidence>(operations: readonly Operation<One>[]): Operation<One>[] {
  if (operations.length === 1) return [...operations];
  const measured = new Set(
    operations.flatMap(({ judgement }) =>
      judgement.characteristics.filter((one) => one.verdict !== "not measured").map(keyOf),
    ),
  );
  return operations.map((operation) => {
    const { characteristics, uncovered } = operation.judgement;
    const left = characteristics.map((one) =>
      one.code === "lacking" && measured.has(keyOf(one))
        ? (operation.combined.get(keyOf(one))?.asFarAsMeasured ?? one)
        : one,
    );
    return { ...operation, judgement: summed(left, uncovered) };
  });
}

/**
 * A frame by all its operations, as its inspections come: the inspections of each together, and the worst of them all. A good
 * reading after paint takes nothing back that was found after machining. What the batch's plan asks for may be measured at any
 * of them. Another inspection costs about the same however many were before; see `OperationJudging`.
 */
export class FrameJudging<One extends OperationEvidence> {
  /** In the order of their newest inspections. */
  private readonly byOperation = new Map<string, OperationJudging<One>>();
  private planCounts = false;

  /** @param asked - what the batch's plan asks for */
  constructor(private readonly asked: AskedEvidence | null) {}

  /** @param one - a valid inspection of the frame since its last rework, not older than those before */
  add(one: One): void {
    const known = this.byOperation.get(one.operationId) ?? new OperationJudging<One>(this.asked);
    this.byOperation.delete(one.operationId);
    this.byOperation.set(one.operationId, known);
    known.add(one);
    this.planCounts ||= one.planCounts;
  }

  /** What they say so far; null where there are none. */
  judged(): FrameEvidenceNow<One> | null {
    const each = [...this.byOperation].flatMap(([operationId, judging]): Operation<One>[] => {
      const together = judging.judged();
      return together ? [{ ...together, operationId, inspections: judging.count }] : [];
    });
    const judged = asFarAsElsewhere(each);
    const missing = this.planCounts ? [] : lackingInFrame(judged, this.asked);
    const last = judged.at(-1);
    if (missing.length > 0 && last !== undefined) {
      const { characteristics, uncovered } = last.judgement;
      judged[judged.length - 1] = { ...last, judgement: summed([...characteristics, ...missing], uncovered) };
    }
    const verdict = worstVerdict(judged.map((one) => one.judgement.verdict));
    const shown = judged.findLast((one) => one.judgement.verdict === verdict);
    if (!shown) return null;
    return {
      verdict,
      holds: judged.some((one) => one.judgement.holdsFrame),
      reasons: judged.flatMap((one) => one.judgement.characteristics.filter((each) => each.verdict !== "conforms")),
      disagreeing: judged
        .filter((one) =>
          one.judgement.characteristics.some(({ code }) => code === "disagreement" || isFeltContradiction(code)),
        )
        .map(({ operationId }) => operationId),
      contradicting: judged.flatMap((one) => one.contradicting),
      shown,
    };
  }
}

/**
 * Judges a frame by some valid inspections since its last rework, oldest first; see `FrameJudging`.
 *
 * @returns null where there are none
 */
export function judgeOperations<One extends OperationEvidence>(
  inspections: readonly One[],
  asked: AskedEvidence | null,
): FrameEvidenceNow<One> | null {
  const judging = new FrameJudging<One>(asked);
  for (const one of inspections) judging.add(one);
  return judging.judged();
}
