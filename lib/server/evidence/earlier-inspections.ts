import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { inSlices } from "../base/take-turns";
import { sql } from "../db/sql";
import { overdueAmong } from "./gauge-use";
import type { ReferenceData } from "./reference-data";
import { type PlantEvidence, type StoredInspection, measuredElsewhere, storedEvidence } from "./stored-evidence";

/** An inspection of a frame that was not withdrawn, as evidence. */
export type EarlierInspection = PlantEvidence & {
  readonly frameId: string;
  readonly measuredAt: Date;
  /** Gauges of it that were out of calibration then. */
  readonly overdueGauges: readonly string[];
};

/** The same, made into evidence only where something is judged by it: doubts of its gauges are most of the work. */
export type ListedInspection = Pick<EarlierInspection, "operationId" | "measuredAt" | "overdueGauges"> & {
  readonly evidence: () => EarlierInspection;
};

/** Makes something when it is first asked for. */
export function onceMade<Made>(make: () => Made): () => Made {
  let made: { readonly value: Made } | null = null;
  return () => (made ??= { value: make() }).value;
}

type EarlierRow = StoredInspection & { frameId: string; planRevisionId: string };

/** Reads the inspections of some frames that were not withdrawn, oldest first; each is made into evidence when it is asked for. */
export async function listEarlier(
  db: pg.ClientBase,
  plantId: string,
  frames: readonly { readonly id: string }[],
  reference: ReferenceData,
): Promise<Map<string, ListedInspection[]>> {
  const { rows } = await db.query<EarlierRow>(sql`
    select i.id, i.ordinal, i.frame_id as "frameId", i.operation_id as "operationId", i.measured_at as "measuredAt",
      i.plan_revision_id as "planRevisionId", i.readings, i.gauges, i.gauge_keys as "gaugeKeys",
      i.offsets_ms as "offsetsMs", i.states,
      i.attributes, b.plan_id as "batchPlanId",
      array(select s from decision d, jsonb_array_elements(d.evidence -> 'sides') s where d.plant_id = i.plant_id
        and d.batch_id = i.batch_id and d.kind = 'resolve_disagreement' and s ->> 'inspection' = i.id::text order by d.at) as sides,
      ${measuredElsewhere} as elsewhere
    from inspection i
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    where i.plant_id = ${plantId} and i.frame_id = any(${frames.map((frame) => frame.id)}::uuid[])
      and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
    order by i.measured_at, i.id`);
  const byFrame = new Map<string, ListedInspection[]>();
  for (const { planRevisionId, frameId, ...row } of rows) {
    const plan = reference.plans.get(planRevisionId);
    if (!plan)
      throw new AppError(
        "unexpected",
        `An inspection refers to the plan revision ${planRevisionId}, which is not released.`,
      );
    const known = byFrame.get(frameId) ?? [];
    const { operationId, measuredAt, gaugeKeys } = row;
    const overdueGauges = overdueAmong(gaugeKeys, reference, measuredAt);
    const evidence = onceMade(() => ({
      ...storedEvidence(row, plan, reference),
      frameId,
      measuredAt,
      overdueGauges,
    }));
    known.push({ operationId, measuredAt, overdueGauges, evidence });
    byFrame.set(frameId, known);
  }
  return byFrame;
}

/** The same as evidence. */
export async function readEarlier(
  db: pg.ClientBase,
  plantId: string,
  frames: readonly { readonly id: string }[],
  reference: ReferenceData,
): Promise<Map<string, EarlierInspection[]>> {
  const slices = inSlices();
  const byFrame = new Map<string, EarlierInspection[]>();
  for (const [frameId, list] of await listEarlier(db, plantId, frames, reference)) {
    const made: EarlierInspection[] = [];
    for (const one of list) {
      if (slices.isOver()) await slices.next();
      made.push(one.evidence());
    }
    byFrame.set(frameId, made);
  }
  return byFrame;
}
