import "server-only";
import { type FrameEvidenceNow, FrameJudging } from "@/lib/quality/judge-operations";
import type { AskedEvidence } from "@/lib/quality/judge-together";
import type { EarlierInspection, ListedInspection } from "../evidence/earlier-inspections";

type AtOperation = { readonly count: number; readonly newestValid: ListedInspection | undefined };

const NOTHING: AtOperation = { count: 0, newestValid: undefined };

/**
 * Inspections of one frame that were not withdrawn, as they stand inside a transaction, and what the valid ones of them say
 * together: another one costs the same however many came before.
 */
export class FrameHistory {
  private readonly valid: ListedInspection[] = [];
  private readonly byOperation = new Map<string, AtOperation>();
  private readonly listed: string[] = [];
  private arePlain = true;
  private anyOverdue = false;
  /** Of `valid`; null where they have to be judged anew. */
  private judging: FrameJudging<EarlierInspection> | null = null;
  private tried: { readonly own: ListedInspection; readonly judging: FrameJudging<EarlierInspection> } | null = null;

  /**
   * @param evidenceFrom - what was measured before says nothing about the frame as it is now; null where nobody reworked it
   * @param asked - what the batch's plan asks for
   * @param earlier - oldest first
   */
  constructor(
    private readonly evidenceFrom: Date | null,
    private readonly asked: AskedEvidence | null,
    earlier: readonly ListedInspection[],
  ) {
    for (const one of earlier) this.add(one);
  }

  get count(): number {
    return this.listed.length;
  }

  /** Keys of all of them, in the order in which they were added. */
  get ids(): readonly string[] {
    return this.listed;
  }

  /** True where each of them is worth what it is as long as it is not withdrawn. */
  get isPlain(): boolean {
    return this.arePlain;
  }

  get validCount(): number {
    return this.valid.length;
  }

  /** True where a valid one was measured with a gauge out of calibration. */
  get isOverdue(): boolean {
    return this.anyOverdue;
  }

  at(operationId: string): AtOperation {
    return this.byOperation.get(operationId) ?? NOTHING;
  }

  isValid({ measuredAt }: Pick<ListedInspection, "measuredAt">): boolean {
    return this.evidenceFrom === null || measuredAt > this.evidenceFrom;
  }

  /** What all valid inspections and one more say, before it is added; null where there are none. */
  judgedWith(own: ListedInspection): FrameEvidenceNow<EarlierInspection> | null {
    const judging = this.judging ?? new FrameJudging<EarlierInspection>(this.asked);
    if (this.judging === null) for (const one of this.valid) judging.add(one.evidence());
    // Whatever goes wrong from here on, it is not counted before it is added.
    this.judging = null;
    if (this.isValid(own)) judging.add(own.evidence());
    const judged = judging.judged();
    this.tried = { own, judging };
    return judged;
  }

  add(one: ListedInspection): void {
    const { operationId, overdueGauges } = one;
    const isValid = this.isValid(one);
    const { count, newestValid } = this.at(operationId);
    this.byOperation.set(operationId, { count: count + 1, newestValid: isValid ? one : newestValid });
    this.listed.push(one.id);
    this.arePlain &&= one.plain;
    this.judging = this.tried?.own === one ? this.tried.judging : null;
    this.tried = null;
    if (!isValid) return;
    this.valid.push(one);
    this.anyOverdue ||= overdueGauges.length > 0;
  }
}
