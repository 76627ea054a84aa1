import "server-only";
import { TO_MEASURE_STATES } from "@/lib/quality/frame-state";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameModelColumns } from "../db/columns/frame-model";
import { lineColumns } from "../db/columns/line";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";

export type BatchItem = {
  readonly id: string;
  readonly key: string;
  readonly supplier: string;
  readonly model: string;
  readonly line: string;
  readonly plan: string;
  readonly frames: number;
  readonly firstSerial: string;
  readonly lastSerial: string;
  readonly openedAt: string;
};

const listed = together(
  batchColumns("b", ["id", "key", "openedAt"]),
  supplierColumns("s", { supplier: "key" }),
  frameModelColumns("m", { model: "key" }),
  lineColumns("l", { line: "key" }),
  measuringPlanColumns("p", { plan: "key" }),
);

/** The newest batches of the plant. */
export async function listNewestBatches(viewer: Viewer, limit: number = 20): Promise<readonly BatchItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<
    RowOf<typeof listed> & Pick<BatchItem, "frames" | "firstSerial" | "lastSerial">
  >(sql`
    select ${listed}, f.frames, f.first as "firstSerial", f.last as "lastSerial"
    from (select * from batch where plant_id = ${viewer.plantId} order by opened_at desc, id desc limit ${limit}) b
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join measuring_plan p on p.plant_id = b.plant_id and p.id = b.plan_id
    join lateral (select count(*)::int as frames, (array_agg(serial order by position))[1] as first,
      (array_agg(serial order by position desc))[1] as last from frame where plant_id = b.plant_id and batch_id = b.id) f on true
    order by b.opened_at desc, b.id desc`);
  return rows.map((row) => ({ ...row, openedAt: row.openedAt.toISOString() }));
}

/** Frames of a line that are still to be measured, by themselves or again after rework. */
export async function countToMeasure(viewer: Viewer, line: string): Promise<number> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<{ frames: number }>(sql`
    select count(*)::int as frames from line l
    join batch b on b.plant_id = l.plant_id and b.line_id = l.id
    join frame f on f.plant_id = b.plant_id and f.batch_id = b.id
    where l.plant_id = ${viewer.plantId} and l.key = ${line} and f.state = any(${TO_MEASURE_STATES}::"FrameState"[])`);
  return rows[0]?.frames ?? 0;
}
