import "server-only";
import { formatMoment } from "@/lib/format/date-text";
import { feltIn, type EvidenceAttributes } from "@/lib/quality/inspection-evidence";
import type { OperationEvidence } from "@/lib/quality/judge-operations";
import { offScales } from "@/lib/schemas/inspection";
import { begunAt, planCountsFor } from "./batch-plan";
import { gaugeDoubts, type GaugeUse, type TakenReadings } from "./gauge-use";
import type { PlanReference, ReferenceData } from "./reference-data";

/** An inspection as it lies in the database. */
export type StoredInspection = GaugeUse &
  TakenReadings & {
    readonly id: string;
    readonly ordinal: number;
    readonly operationId: string;
    /** The plan of the frame's batch. */
    readonly batchPlanId: string;
  };

/** An inspection of the plant as evidence, with the plan by which it was keyed. */
export type PlantEvidence = OperationEvidence & { readonly plan: PlanReference };

/** How reasons name an inspection of the plant. */
export function inspectionLabel(
  { ordinal, measuredAt }: Pick<StoredInspection, "ordinal" | "measuredAt">,
  { zone }: Pick<ReferenceData, "zone">,
): string {
  return `inspection ${ordinal} of ${formatMoment(measuredAt.getTime(), { zone })}`;
}

/** What a stored inspection brings to the judging of its frame, with what its gauges are worth as known now. */
export function storedEvidence(
  stored: StoredInspection,
  plan: PlanReference,
  reference: Pick<ReferenceData, "gauges" | "zone" | "revisionsOfPlan">,
): PlantEvidence {
  return {
    key: stored.id,
    label: inspectionLabel(stored, reference),
    operationId: stored.operationId,
    plan,
    drawing: plan.drawing,
    compiled: plan.compiled,
    readings: stored.readings,
    offScale: offScales(stored.states),
    planCounts: planCountsFor(plan, begunAt(stored.measuredAt, stored.offsetsMs), stored.batchPlanId, reference),
    felt: feltIn(stored.attributes),
    temperatureC: stored.attributes.temperatureC ?? null,
    doubts: gaugeDoubts(plan, stored, stored, reference),
  };
}
