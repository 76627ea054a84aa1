import "server-only";
import { formatMoment } from "@/lib/format/date-text";
import type { FeltSide, FeltSubject } from "@/lib/core/metrology/felt-subject";
import { feltIn, type InspectionEvidence } from "@/lib/quality/inspection-evidence";
import type { OperationEvidence } from "@/lib/quality/judge-operations";
import { type MeasuredElsewhere, otherLineDoubts } from "@/lib/quality/other-line-doubts";
import { offScales, untaken } from "@/lib/schemas/inspection";
import { inspectionColumns } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql, type Statement } from "../db/sql";
import { begunAt, judgedBy, planCountsFor } from "./batch-plan";
import { gaugeDoubts, type GaugeUse, type TakenReadings } from "./gauge-use";
import type { PlanReference, ReferenceData } from "./reference-data";
import { EVIDENCE_WORDS } from "./words";

const words = EVIDENCE_WORDS.storedEvidence;

/** Columns of an inspection `i` that its frame is judged by. */
export const evidenceColumns = inspectionColumns("i", [
  "id",
  "ordinal",
  "operationId",
  "planRevisionId",
  "measuredAt",
  "readings",
  "gauges",
  "gaugeKeys",
  "offsetsMs",
  "states",
  "attributes",
]);
export type EvidenceRow = RowOf<typeof evidenceColumns>;

/** An inspection as it lies in the database. */
export type StoredInspection = GaugeUse &
  TakenReadings &
  Pick<EvidenceRow, "id" | "ordinal" | "operationId"> & {
    /** The plan of the frame's batch. */
    readonly batchPlanId: string;
    /** What signed decisions say of it. */
    readonly sides: readonly SignedSide[];
    /** At another line's station, and nobody said that it was the right frame; else null. */
    readonly elsewhere: MeasuredElsewhere | null;
  };

/** Which side of a contradiction counts, as a decision keeps it. */
export type SignedSide = { readonly inspection: string; readonly of: FeltSubject; readonly counts: FeltSide };

/** What signed decisions say of inspection `i`, oldest first. */
export const signedSides = sql`
  array(select s from decision d, jsonb_array_elements(d.evidence -> 'sides') s where d.plant_id = i.plant_id
    and d.batch_id = i.batch_id and d.kind = 'resolve_disagreement' and s ->> 'inspection' = i.id::text order by d.at)`;

/**
 * Where an inspection "i" of a frame of batch "b" was measured, if it was at another line's station and nobody has said that it was
 * the right frame: neither who measured it nor who signed the frame's release since.
 */
export const measuredElsewhere: Statement = sql`
  case when i.line_id <> b.line_id then (
    select json_build_object('station', st.key, 'line', other.key, 'frameLine', own.key)
    from line own, line other, station st
    where own.plant_id = i.plant_id and own.id = b.line_id and other.plant_id = i.plant_id and other.id = i.line_id
      and st.plant_id = i.plant_id and st.id = i.station_id and i.attributes ->> 'otherLine' is distinct from own.key
      and not exists (select 1 from decision d where d.plant_id = i.plant_id and d.batch_id = i.batch_id and d.kind = 'release'
        and i.frame_id = any(d.frame_ids) and d.at >= i.recorded_at)) end`;

/** An inspection with the doubt whether it is of the right frame. */
export function withElsewhere<One extends InspectionEvidence>(
  inspection: One,
  elsewhere: MeasuredElsewhere | null,
): One {
  if (elsewhere === null) return inspection;
  return { ...inspection, doubts: [...otherLineDoubts(inspection.drawing, elsewhere), ...inspection.doubts] };
}

/** The gauge of each reading by its key, as rows keep it: an index into the keys, -1 where none; [] where none was named. */
export function gaugesByReading(
  gauges: readonly number[],
  gaugeKeys: readonly string[],
): { readonly gauges: readonly (string | null)[] } {
  return { gauges: gauges.map((place) => gaugeKeys[place] ?? null) };
}

/** An inspection with what was decided of it. */
export function withSides<One extends InspectionEvidence>(inspection: One, signed: readonly SignedSide[]): One {
  const own = signed.filter((one) => one.inspection === inspection.key);
  if (own.length === 0) return inspection;
  return {
    ...inspection,
    sides: { ...inspection.sides, ...Object.fromEntries(own.map((one) => [one.of, one.counts])) },
  };
}

/** An inspection of the plant as evidence, with the plan by which it was keyed. */
export type PlantEvidence = OperationEvidence & { readonly plan: PlanReference };

/** How reasons name an inspection of the plant. */
export function inspectionLabel(
  { ordinal, measuredAt }: Pick<StoredInspection, "ordinal" | "measuredAt">,
  { zone }: Pick<ReferenceData, "zone">,
): string {
  return words.inspectionOf(ordinal, formatMoment(measuredAt.getTime(), { zone }));
}

/** What a stored inspection brings to the judging of its frame, with what its gauges are worth as known now. */
export function storedEvidence(
  stored: StoredInspection,
  plan: PlanReference,
  reference: Pick<ReferenceData, "gauges" | "zone" | "revisionsOfPlan">,
): PlantEvidence {
  const begun = begunAt(stored.measuredAt, stored.offsetsMs);
  const evidence: PlantEvidence = {
    key: stored.id,
    label: inspectionLabel(stored, reference),
    operationId: stored.operationId,
    plan,
    ...judgedBy(plan, begun, stored.batchPlanId, reference),
    readings: stored.readings,
    offScale: offScales(stored.states),
    ...untaken(stored.states),
    planCounts: planCountsFor(plan, begun, stored.batchPlanId, reference),
    felt: feltIn(stored.attributes),
    temperatureC: stored.attributes.temperatureC ?? null,
    doubts: gaugeDoubts(plan, stored, stored, reference),
    ...gaugesByReading(stored.gauges, stored.gaugeKeys),
  };
  return withElsewhere(withSides(evidence, stored.sides), stored.elsewhere);
}
