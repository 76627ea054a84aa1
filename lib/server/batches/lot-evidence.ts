import "server-only";
import type pg from "pg";
import { FEATURE_NAMES, FEATURES } from "@/lib/core/metrology/features";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { isState, SETTLED_STATES, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import { type LotFrame, type LotJudgement, lotJudgement, type LotSize } from "@/lib/quality/lot-judgement";
import { SIZES_BY_VARIABLES } from "@/lib/quality/lot-plan";
import { batchSampleColumns } from "../db/columns/batch-sample";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { findDrawn } from "../line/draw-sample";

const kept = batchSampleColumns("batch_sample", ["schemeId", "plan", "state", "at"]);
const ofLot = together(
  frameColumns("f", ["serial", "inspections", "state", "verdict", "judgement"]),
  orNull(inspectionColumns("i", ["features"])),
);
const drawn = drawingRevisionColumns("d", ["content"]);
type LotRow = RowOf<typeof ofLot> & { readonly hasFailed: boolean };

/** A batch that is judged by a plan of its own, as it stands. */
export type SampledBatch = RowOf<typeof kept> & { readonly judgement: LotJudgement };

/** Frames without a result that have left, so that another one stands for them. */
const isLost = ({ inspections, state }: LotRow): boolean => inspections === 0 && isState(state, SETTLED_STATES);
const isMeasured = ({ inspections, state }: LotRow): boolean => inspections > 0 && !isState(state, UNMEASURED_STATES);

/** The frames drawn, and the first measured ones in the place of those that left unmeasured. */
function sampleOf(rows: readonly LotRow[], drawn: readonly string[] | null): ReadonlySet<string> {
  if (drawn === null) return new Set(rows.map(({ serial }) => serial));
  const sample = new Set(drawn);
  const lost = rows.filter((row) => sample.has(row.serial) && isLost(row)).length;
  for (const { serial } of rows.filter((row) => !sample.has(row.serial) && isMeasured(row)).slice(0, lost))
    sample.add(serial);
  return sample;
}

function sizesOf(drawing: ShellDrawing, sample: readonly LotRow[]): readonly LotSize[] {
  return SIZES_BY_VARIABLES.flatMap((name) => {
    const limits = drawing.characteristics.find((one) => one.name === name);
    return (["lower", "upper"] as const).flatMap((side) => {
      const limit = limits?.[side] ?? null;
      if (limit === null) return [];
      const statistic = side === "lower" ? "smallest" : "largest";
      return FEATURES.filter((one) => one.characteristic === name && one.statistic === statistic).map(
        ({ name: feature, seat }): LotSize => ({
          name,
          seat,
          side,
          limit,
          values: sample.flatMap(({ features }) => features?.[FEATURE_NAMES.indexOf(feature)] ?? []),
        }),
      );
    });
  });
}

async function readDrawing(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batchId: string,
): Promise<ShellDrawing | null> {
  const { rows } = await db.query<RowOf<typeof drawn>>(sql`
    select ${drawn} from batch b
    join measuring_plan_revision r on r.plant_id = b.plant_id and r.plan_id = b.plan_id and r.state = 'released'
    join drawing_revision d on d.plant_id = r.plant_id and d.id = r.drawing_revision_id
    where b.plant_id = ${plantId} and b.id = ${batchId} order by r.released_at desc, r.id desc limit 1`);
  return rows[0]?.content ?? null;
}

/** How a batch stands by the plan that it was given with its list; null where its measuring plan alone says what is measured. */
export async function readSampledBatch(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batch: { readonly id: string; readonly key: string },
): Promise<SampledBatch | null> {
  const { rows: samples } = await db.query<RowOf<typeof kept>>(sql`
    select ${kept} from batch_sample where plant_id = ${plantId} and batch_id = ${batch.id}`);
  const sample = samples[0];
  if (sample === undefined) return null;
  const { plan } = sample;
  const { rows } = await db.query<LotRow>(sql`
    select ${ofLot}, f.inspections > 0 and (f.verdict = 'does not conform' or exists (select 1 from inspection i
        where i.plant_id = f.plant_id and i.frame_id = f.id and i.verdict = 'does not conform' and ${notWithdrawn})) as "hasFailed"
    from frame f left join inspection i on i.plant_id = f.plant_id and i.id = f.last_inspection_id
    where f.plant_id = ${plantId} and f.batch_id = ${batch.id} order by f.position, f.id`);
  const serials = plan.n < plan.lot ? await findDrawn(db, plantId, { key: batch.key, size: plan.n }) : null;
  const chosen = sampleOf(rows, serials);
  const frames = rows.map((row): LotFrame => ({
    serial: row.serial,
    isSample: chosen.has(row.serial) && !isLost(row),
    isMeasured: isMeasured(row),
    hasFailed: row.hasFailed,
    isDoubtful: row.verdict === "not proven",
    against: row.judgement
      .filter(({ verdict }) => verdict === "does not conform" || verdict === "not proven")
      .map(({ name }) => name),
  }));
  const drawing = plan.k === null ? null : await readDrawing(db, plantId, batch.id);
  const measured = rows.filter((row) => chosen.has(row.serial) && isMeasured(row));
  const sizes = drawing === null ? [] : sizesOf(drawing, measured);
  return { ...sample, judgement: lotJudgement(plan, frames, sizes) };
}
