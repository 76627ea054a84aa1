import "server-only";
import type { InspectionEvidence } from "@/lib/quality/inspection-evidence";
import { asksAtLeast, type AskedEvidence, compiledUnder } from "@/lib/quality/judge-together";
import type { PlanReference, ReferenceData } from "./reference-data";

type Plans = Pick<ReferenceData, "revisionsOfPlan">;

/** The revision of a plan by which a frame was measured that was begun then: the newest that was released, else the first. */
function inForceAt(planId: string, begun: Date, { revisionsOfPlan }: Plans): PlanReference | undefined {
  const revisions = revisionsOfPlan.get(planId) ?? [];
  return revisions.find(({ releasedAt }) => releasedAt !== null && releasedAt <= begun) ?? revisions.at(-1);
}

/**
 * Whether an inspection's plan counts as a whole for a batch: it is the batch's plan as it is now or was when the inspection was
 * begun, has at least the same readings, or is named by it (as a weaker plan, or for the first frame of a shift).
 *
 * @param plan - by which it was keyed
 * @param begun - when its first reading was taken
 */
export function planCountsFor(plan: PlanReference, begun: Date, batchPlanId: string, reference: Plans): boolean {
  const now = reference.revisionsOfPlan.get(batchPlanId)?.[0];
  const then = inForceAt(batchPlanId, begun, reference);
  return [then, now].some((own) => {
    if (own === undefined) return false;
    if (own.id === plan.id || asksAtLeast(plan.compiled, own.compiled)) return true;
    if (!own.allows.includes(plan.planKey)) return false;
    return plan.id === inForceAt(plan.planId, begun, reference)?.id || plan.state === "released";
  });
}

/**
 * The drawing by which an inspection is judged, and its plan compiled for it: that of the batch's plan as it is now or was when
 * the inspection was begun. A plan that is bound to another revision of the drawing, such as a superseded one of wider limits,
 * lends its readings and not its limits.
 */
export function judgedBy(
  { drawing, drawingRevisionId, compiled }: PlanReference,
  begun: Date,
  batchPlanId: string,
  reference: Plans,
): Pick<InspectionEvidence, "drawing" | "compiled"> {
  const now = reference.revisionsOfPlan.get(batchPlanId)?.[0];
  const then = inForceAt(batchPlanId, begun, reference);
  const isOwn = [then, now].some((own) => own?.drawingRevisionId === drawingRevisionId);
  if (then === undefined || isOwn) return { drawing, compiled };
  return { drawing: then.drawing, compiled: compiledUnder(compiled, then.drawing) };
}

const askedBefore = new WeakMap<PlanReference["compiled"], AskedEvidence>();

/** What a batch's plan asks of its frames, as released now; null where it has no released revision. */
export function askedOf(batchPlanId: string, { revisionsOfPlan }: Plans): AskedEvidence | null {
  const plan = revisionsOfPlan.get(batchPlanId)?.find(({ state }) => state === "released");
  if (plan === undefined) return null;
  const { compiled, drawing, planKey, revision } = plan;
  const known = askedBefore.get(compiled) ?? { plan: `plan ${planKey} revision ${revision}`, drawing, compiled };
  askedBefore.set(compiled, known);
  return known;
}

/** When the first reading of an inspection was taken. */
export function begunAt(measuredAt: Date, offsetsMs: readonly number[]): Date {
  return new Date(measuredAt.getTime() - offsetsMs.reduce((last, offset) => Math.max(last, offset), 0));
}
