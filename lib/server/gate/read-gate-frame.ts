import "server-only";
import type pg from "pg";
import type { BatchToShip, FrameToShip } from "@/lib/quality/ship-answer";
import { sql, type Statement } from "../db/sql";

export type GateFrame = {
  readonly id: string;
  readonly batchId: string;
  readonly frame: FrameToShip;
  readonly batch: BatchToShip;
};

type FrameRow = Omit<FrameToShip, "reasons"> & { id: string; batchId: string; reasons: FrameToShip["reasons"] };
type BatchRow = Omit<BatchToShip, "missing" | "bySample"> & {
  unmeasured: number;
  due: { kind: string; size?: number; n?: number };
};

/** A frame that must be measured for its batch to be complete, by the plan's rule of which frames. */
function missingOf({ due, frames, measured, unmeasured }: BatchRow): number {
  if (due.kind === "drawn") return Math.max(0, Math.min(due.size ?? frames, frames) - measured);
  if (due.kind === "every") return Math.max(0, Math.ceil(frames / (due.n ?? 1)) - measured);
  return unmeasured;
}

const frameQuery = (plantId: string, serial: string): Statement => sql`
  select id, batch_id as "batchId", serial, state::text as state, verdict, lease_device_id as "leaseDeviceId",
    concession_until as "concessionUntil", shipped_at as "shippedAt", judgement as reasons
  from frame where plant_id = ${plantId} and serial = ${serial}`;

/**
 * Reads what decides whether one frame may ship. With `lock`, frame and batch stay as they are until the transaction ends:
 * the frame cannot be measured, decided on or shipped by somebody else meanwhile, nor its batch be held.
 */
export async function readGateFrame(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  serial: string,
  { lock }: { readonly lock: boolean },
): Promise<GateFrame | null> {
  const base = frameQuery(plantId, serial);
  const frameRow = (
    await db.query<FrameRow>({ text: lock ? `${base.text} for update` : base.text, values: [...base.values] })
  ).rows[0];
  if (!frameRow) return null;
  if (lock) await db.query(sql`select 1 from batch where plant_id = ${plantId} and id = ${frameRow.batchId} for share`);
  const { rows } = await db.query<BatchRow>(sql`
    select b.key, b.held_at as "heldAt", count(*)::int as frames,
      count(*) filter (where f.inspections = 0 and f.state in ('unmeasured', 'in_measurement'))::int as unmeasured,
      count(*) filter (where f.inspections > 0)::int as measured,
      (select r.frames from measuring_plan_revision r where r.plant_id = b.plant_id and r.plan_id = b.plan_id
        and r.state = 'released' order by r.released_at desc limit 1) as due
    from batch b join frame f on f.plant_id = b.plant_id and f.batch_id = b.id
    where b.plant_id = ${plantId} and b.id = ${frameRow.batchId}
    group by b.plant_id, b.id`);
  const batchRow = rows[0];
  if (!batchRow) return null;
  const due = batchRow.due ?? { kind: "all" };
  const { id, batchId, ...frame } = frameRow;
  return {
    id,
    batchId,
    frame,
    batch: {
      key: batchRow.key,
      heldAt: batchRow.heldAt,
      frames: batchRow.frames,
      measured: batchRow.measured,
      missing: missingOf({ ...batchRow, due }),
      bySample: due.kind !== "all",
    },
  };
}
