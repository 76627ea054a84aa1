import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { EvidenceAttributes } from "@/lib/quality/inspection-evidence";
import { inSlices } from "../base/take-turns";
import { batchColumns } from "../db/columns/batch";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { overdueAmong } from "./gauge-use";
import type { ReferenceData } from "./reference-data";
import {
  type EvidenceRow,
  evidenceColumns,
  measuredElsewhere,
  type PlantEvidence,
  signedSides,
  type StoredInspection,
  storedEvidence,
} from "./stored-evidence";
import { EVIDENCE_WORDS } from "./words";

const words = EVIDENCE_WORDS.earlierInspections;

/** An inspection of a frame that was not withdrawn, as evidence. */
export type EarlierInspection = PlantEvidence & {
  readonly frameId: string;
  readonly measuredAt: Date;
  /** Gauges of it that were out of calibration then. */
  readonly overdueGauges: readonly string[];
};

/** The same, made into evidence only where something is judged by it: doubts of its gauges are most of the work. */
export type ListedInspection = Pick<EarlierInspection, "operationId" | "measuredAt" | "overdueGauges"> & {
  readonly id: string;
  /** Nothing that can be said later, a withdrawal aside, and nothing of plugs and bars makes it worth something else. */
  readonly plain: boolean;
  readonly evidence: () => EarlierInspection;
};

/** Makes something when it is first asked for. */
export function onceMade<Made>(make: () => Made): () => Made {
  let made: { readonly value: Made } | null = null;
  return () => (made ??= { value: make() }).value;
}

/** Nothing was felt: what plugs and bars say is named in an order of its own once it is stored. */
export function isWithoutFelt({ plugs, bars }: EvidenceAttributes): boolean {
  return plugs === undefined && bars === undefined;
}

const frameAndPlan = together(inspectionColumns("i", ["frameId"]), batchColumns("b", { batchPlanId: "planId" }));
type EarlierRow = EvidenceRow & RowOf<typeof frameAndPlan> & Pick<StoredInspection, "sides" | "elsewhere">;

/** Reads the inspections of some frames that were not withdrawn, oldest first; each is made into evidence when it is asked for. */
export async function listEarlier(
  db: pg.ClientBase,
  plantId: string,
  frames: readonly { readonly id: string }[],
  reference: ReferenceData,
): Promise<Map<string, ListedInspection[]>> {
  const { rows } = await db.query<EarlierRow>(sql`
    select ${evidenceColumns}, ${frameAndPlan}, ${signedSides} as sides, ${measuredElsewhere} as elsewhere
    from inspection i
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    where i.plant_id = ${plantId} and i.frame_id = any(${frames.map((frame) => frame.id)}::uuid[])
      and ${notWithdrawn}
    order by i.measured_at, i.id`);
  const byFrame = new Map<string, ListedInspection[]>();
  for (const { planRevisionId, frameId, ...row } of rows) {
    const plan = reference.plans.get(planRevisionId);
    if (!plan) throw new AppError("unexpected", words.inspectionRefersToPlanRevision(planRevisionId));
    const known = byFrame.get(frameId) ?? [];
    const { id, operationId, measuredAt, gaugeKeys, sides, elsewhere, attributes } = row;
    const plain = sides.length === 0 && elsewhere === null && isWithoutFelt(attributes);
    const overdueGauges = overdueAmong(gaugeKeys, reference, measuredAt);
    const evidence = onceMade(() => ({
      ...storedEvidence(row, plan, reference),
      frameId,
      measuredAt,
      overdueGauges,
    }));
    known.push({ id, plain, operationId, measuredAt, overdueGauges, evidence });
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
  const slices = inSlices({ holdsLock: true });
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
