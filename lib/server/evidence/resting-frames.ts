import "server-only";
import type pg from "pg";
import type { FrameState } from "@/lib/quality/frame-state";
import { LONGEST_INSPECTION_MS } from "@/lib/schemas/inspection";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";

const resting = together(
  inspectionColumns("i", ["id", "measuredAt"]),
  frameColumns("f", { frameId: "id" }),
  frameColumns("f", ["serial", "state", "verdict", "shippedAt"]),
  batchColumns("b", { batch: "key" }),
  supplierColumns("s", { supplier: "name" }),
);

/** One inspection that rests on a gauge, with its frame as it stands. */
export type RestingInspection = RowOf<typeof resting> & {
  /** When the gauge took its first and its last reading of it. */
  readonly firstAt: Date;
  readonly lastAt: Date;
};

/**
 * Reads the inspections in which a gauge was used and that ended within a stretch of time or go back into it, oldest first;
 * withdrawn ones and those from before a rework of their frame say nothing and are left out.
 *
 * @param stretch - ends excluded; null is open
 */
export async function readRestingInspections(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  gauge: string,
  stretch: { readonly after: Date | null; readonly until: Date | null },
): Promise<RestingInspection[]> {
  // The cross product of the few lines, operations and drawings leads each range into the index by measuring time.
  const { rows } = await db.query<RestingInspection>(sql`
    select ${resting}, taken.first as "firstAt", taken.last as "lastAt"
    from line l
    join operation o on o.plant_id = l.plant_id
    join drawing d on d.plant_id = l.plant_id
    join inspection i on i.plant_id = l.plant_id and i.line_id = l.id and i.operation_id = o.id and i.drawing_id = d.id
      and i.measured_at > coalesce(${stretch.after}::timestamptz, '-infinity')
      and i.measured_at < coalesce(${stretch.until}::timestamptz + ${LONGEST_INSPECTION_MS} * interval '1 ms', 'infinity')
      and ${gauge} = any(i.gauge_keys)
    cross join lateral (
      select i.measured_at - coalesce(max(o.ms) - min(o.ms) filter (where own), 0) * interval '1 ms' as first,
        i.measured_at - coalesce(max(o.ms) - max(o.ms) filter (where own), 0) * interval '1 ms' as last
      from unnest(i.offsets_ms, i.gauges) as o(ms, place) cross join lateral (select i.gauge_keys[o.place + 1] = ${gauge}) as w(own)
    ) taken
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    where l.plant_id = ${plantId} and taken.first < coalesce(${stretch.until}::timestamptz, 'infinity')
      and (f.evidence_from is null or i.measured_at > f.evidence_from)
      and ${notWithdrawn}
    order by i.measured_at, i.id`);
  return rows;
}

/** A frame that rests on a gauge. */
export type RestingFrame = {
  readonly serial: string;
  readonly batch: string;
  readonly state: FrameState;
  readonly verdict: string | null;
  readonly shippedAt: string | null;
  /** When the gauge measured it last. */
  readonly measuredAt: string;
};

/** Counts of what rests on a gauge, and the frames themselves. */
export type RestingOnGauge = {
  readonly frames: number;
  readonly shipped: number;
  readonly batches: readonly {
    readonly key: string;
    readonly supplier: string;
    readonly frames: number;
    readonly shipped: number;
    readonly held: number;
  }[];
  readonly list: readonly RestingFrame[];
  /** More frames than `list` holds. */
  readonly notListed: number;
};

/** A list longer than this is read from the export, not from an answer. */
const MOST_LISTED = 1000;

/** Frames and batches behind some inspections, one entry each. */
export function restingOnGauge(inspections: readonly RestingInspection[]): RestingOnGauge {
  const frames = [...new Map(inspections.map((one) => [one.frameId, one])).values()];
  const byBatch = new Map<string, RestingInspection[]>();
  for (const one of frames) byBatch.set(one.batch, [...(byBatch.get(one.batch) ?? []), one]);
  const isShipped = (one: RestingInspection): boolean => one.shippedAt !== null;
  return {
    frames: frames.length,
    shipped: frames.filter(isShipped).length,
    batches: [...byBatch].map(([key, list]) => ({
      key,
      supplier: list[0]?.supplier ?? "",
      frames: list.length,
      shipped: list.filter(isShipped).length,
      held: list.filter((one) => one.state === "held").length,
    })),
    list: frames.slice(0, MOST_LISTED).map(({ serial, batch, state, verdict, shippedAt, measuredAt }) => ({
      serial,
      batch,
      state,
      verdict,
      shippedAt: shippedAt?.toISOString() ?? null,
      measuredAt: measuredAt.toISOString(),
    })),
    notListed: Math.max(0, frames.length - MOST_LISTED),
  };
}
