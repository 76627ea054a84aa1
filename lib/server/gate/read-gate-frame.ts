import "server-only";
import type pg from "pg";
import { isState, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import type { BatchToShip, FrameToShip } from "@/lib/quality/ship-answer";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import { gatePolicyFrom } from "@/lib/quality/gate-policy";
import { readSampledBatch } from "../batches/lot-evidence";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql, type Statement } from "../db/sql";
import { framesAskedFor } from "./frames-asked-for";
import { missingCount, type PlacedFrame } from "./missing-frames";
import { readSampleFindings } from "./sample-findings";
import { capabilityAgainst, type SampledCapability } from "./sampled-capability";

export type GateFrame = {
  readonly id: string;
  readonly batchId: string;
  readonly frame: FrameToShip;
  readonly batch: BatchToShip;
};

const frameAtGate = together(
  frameColumns("frame", [
    "id",
    "batchId",
    "serial",
    "state",
    "verdict",
    "leaseDeviceId",
    "concessionUntil",
    "shippedAt",
  ]),
  frameColumns("frame", { reasons: "judgement" }),
);
const batchAtGate = together(
  batchColumns("b", ["key", "heldAt", "policy"]),
  orNull(measuringPlanRevisionColumns("r", { planRevisionId: "id" })),
);
const placed = frameColumns("frame", ["serial", "position"]);

const frameQuery = (plantId: string, serial: string): Statement => sql`
  select ${frameAtGate} from frame where plant_id = ${plantId} and serial = ${serial}`;

/**
 * Reads what decides whether one frame may ship. With `lock`, frame and batch stay as they are until the transaction ends:
 * the frame cannot be measured, decided on or shipped by somebody else meanwhile, nor its batch be held.
 *
 * @param capability - from readCapabilityFor, asked before
 */
export async function readGateFrame(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  serial: string,
  { lock, capability }: { readonly lock: boolean; readonly capability: SampledCapability | null },
): Promise<GateFrame | null> {
  const base = frameQuery(plantId, serial);
  const frameRow = (
    await db.query<RowOf<typeof frameAtGate>>({
      text: lock ? `${base.text} for update` : base.text,
      values: [...base.values],
    })
  ).rows[0];
  if (!frameRow) return null;
  if (lock) await db.query(sql`select 1 from batch where plant_id = ${plantId} and id = ${frameRow.batchId} for share`);
  const { rows } = await db.query<RowOf<typeof batchAtGate> & { due: PlannedFrames; hasPlan: boolean }>(sql`
    select ${batchAtGate}, s.plan is not null as "hasPlan", coalesce(s.frames, r.frames, '{"kind":"all"}') as due
    from batch b
    left join batch_sample s on s.plant_id = b.plant_id and s.batch_id = b.id
    left join lateral (select m.id, m.frames from measuring_plan_revision m where m.plant_id = b.plant_id
      and m.plan_id = b.plan_id and m.state = 'released' order by m.released_at desc limit 1) r on true
    where b.plant_id = ${plantId} and b.id = ${frameRow.batchId}`);
  const batch = rows[0];
  if (!batch) return null;
  const { rows: frames } = await db.query<RowOf<typeof placed> & Pick<PlacedFrame, "isMeasured" | "isUnmeasured">>(sql`
    select ${placed}, inspections > 0 and state <> all(${UNMEASURED_STATES}::"FrameState"[]) as "isMeasured",
      state = any(${UNMEASURED_STATES}::"FrameState"[]) as "isUnmeasured"
    from frame where plant_id = ${plantId} and batch_id = ${frameRow.batchId}`);
  const asked = await framesAskedFor(db, plantId, { ...batch, size: frames.length }, frames);
  const bySample = batch.due.kind !== "all";
  const findings = bySample
    ? await readSampleFindings(db, plantId, frameRow.batchId)
    : { found: [], isAccepted: false };
  const sampled =
    bySample && batch.hasPlan ? await readSampledBatch(db, plantId, { id: frameRow.batchId, key: batch.key }) : null;
  const missing = missingCount(asked.frames, frames);
  const { id, batchId, ...frame } = frameRow;
  return {
    id,
    batchId,
    frame,
    batch: {
      key: batch.key,
      heldAt: batch.heldAt,
      frames: frames.length,
      measured: frames.filter((one) => one.isMeasured).length,
      asked: asked.count,
      missing: asked.isDrawn ? missing : Math.min(asked.count, missing),
      isDrawn: asked.isDrawn,
      bySample,
      lot: sampled?.judgement ?? null,
      isPlanKept: gatePolicyFrom(batch.policy).planNotMet === "hold",
      found: findings.found.length,
      isRiskTaken: findings.isAccepted,
      capability: bySample && isState(frame.state, UNMEASURED_STATES) ? capabilityAgainst(capability, batch) : [],
    },
  };
}
