import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { CreateBatch } from "@/lib/schemas/batch";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { batchColumns } from "../db/columns/batch";
import { drawingColumns } from "../db/columns/drawing";
import { frameColumns } from "../db/columns/frame";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { changeSetup, idInUse, idOf } from "../plant/change-setup";
import type { Made } from "../plant/made";
import { sampleNewBatch } from "./sample-batch";
import { BATCHES_WORDS } from "./words";

const words = BATCHES_WORDS.commands;

const drawings = together(drawingColumns("pd", { planDrawing: "key" }), drawingColumns("md", { modelDrawing: "key" }));
const taken = together(frameColumns("f", ["serial"]), batchColumns("b", { batch: "key" }));

/** Keys that a new batch names, as ids; the plan must be released and for the model's drawing. */
async function findBatchParts(db: pg.ClientBase, plantId: string, input: CreateBatch) {
  const supplierId = await idInUse(db, plantId, "supplier", { key: input.supplier, field: "supplier" });
  const modelId = await idInUse(db, plantId, "frame_model", { key: input.model, field: "model" });
  const lineId = await idInUse(db, plantId, "line", { key: input.line, field: "line" });
  const planId = await idOf(db, plantId, "measuring_plan", input.plan);
  const { rows } = await db.query<RowOf<typeof drawings> & { released: boolean }>(sql`
    select ${drawings},
      exists (select 1 from measuring_plan_revision r where r.plant_id = p.plant_id and r.plan_id = p.id
        and r.state = 'released') as released
    from measuring_plan p
    join frame_model m on m.plant_id = p.plant_id and m.id = ${modelId}
    join drawing pd on pd.plant_id = p.plant_id and pd.id = p.drawing_id
    join drawing md on md.plant_id = m.plant_id and md.id = m.drawing_id
    where p.plant_id = ${plantId} and p.id = ${planId}`);
  const pair = rows[0];
  if (pair && pair.planDrawing !== pair.modelDrawing)
    throw new AppError(
      "refused",
      words.planMeasuresDrawing(input.plan, pair.planDrawing, input.model, pair.modelDrawing),
      { fields: [{ path: "plan", message: words.mustBePlanForDrawing(pair.modelDrawing) }] },
    );
  if (pair?.released === false)
    throw new AppError("refused", words.planIsNotReleasedYet(input.plan), {
      fields: [{ path: "plan", message: words.isNotReleasedYet }],
    });
  return { supplierId, modelId, lineId, planId };
}

const NAMED_AT_MOST = 5;

const FIELDS_AT_MOST = 50;

async function assertNewSerials(db: pg.ClientBase, plantId: string, serials: readonly string[]): Promise<void> {
  const { rows } = await db.query<RowOf<typeof taken>>(sql`
    select ${taken} from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where f.plant_id = ${plantId} and f.serial = any(${serials}::text[]) order by f.serial`);
  if (rows.length === 0) return;
  const named = rows.slice(0, NAMED_AT_MOST).map(({ serial, batch }) => words.batch(serial, batch));
  const more = rows.length > NAMED_AT_MOST ? words.andMore(rows.length - NAMED_AT_MOST) : "";
  throw new AppError("conflict", words.theseSerialsAreKnownAlready(named.join(", "), more), {
    fields: rows.slice(0, FIELDS_AT_MOST).map(({ serial, batch }) => ({
      path: `serials[${serials.indexOf(serial)}]`,
      message: words.isInBatchAlready(serial, batch),
    })),
  });
}

/**
 * Opens a batch with the serials of its frames, and draws those that its supplier's and model's sampling asks for.
 *
 * @throws AppError not-found, refused (plan not released or for another drawing), conflict (key or serials known already)
 */
export async function createBatch(viewer: Viewer, input: CreateBatch, at: Date = new Date()): Promise<Made> {
  assertMay(viewer, "setup.draft");
  const what = { action: "batch.created", payload: { key: input.key, frames: input.serials.length }, at };
  return changeSetup(viewer, what, async (db) => {
    const { plantId } = viewer;
    const parts = await findBatchParts(db, plantId, input);
    const serials = input.serials.map((one) => one.serial);
    await assertNewSerials(db, plantId, serials);
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into batch (plant_id, id, key, supplier_id, model_id, line_id, plan_id, opened_at)
      values (${plantId}, ${id}, ${input.key}, ${parts.supplierId}, ${parts.modelId}, ${parts.lineId}, ${parts.planId}, ${at})`);
    await db.query(sql`
      insert into frame (plant_id, id, serial, batch_id, position, mould)
      select ${plantId}, r.id, r.serial, ${id}, r.position, r.mould
      from unnest(${serials.map(() => uuidV7(at.getTime()))}::uuid[], ${serials}::text[],
        ${serials.map((_, place) => place + 1)}::int4[], ${input.serials.map((one) => one.mould ?? null)}::text[])
        as r(id, serial, position, mould)`);
    const { supplierId, modelId } = parts;
    await sampleNewBatch(db, viewer, { id, key: input.key, supplierId, modelId, frames: serials.length }, at);
    return { id };
  });
}
