import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import type { ChangeDrawingDraft, ChangePlanDraft } from "@/lib/schemas/setup";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { canonicalJson } from "../journal/canonical-json";
import { changeSetup } from "./change-setup";
import { assertNamedPlans, planNamesFor, replaceCharacteristics } from "./commands";

const GONE =
  "This revision is no draft any more, or is not known. Nothing was changed; a released revision never changes.";
const CHANGED =
  "Somebody else changed this draft since you opened it. Nothing was changed; open it again and enter your change there.";

async function assertDraftSeen(db: pg.ClientBase, statement: ReturnType<typeof sql>, seen: string): Promise<void> {
  const { rows } = await db.query<{ seen: string; state: string }>(statement);
  if (rows[0]?.state !== "draft") throw new AppError("conflict", GONE);
  if (rows[0].seen !== seen) throw new AppError("conflict", CHANGED);
}

/**
 * Changes a drafted drawing revision. The drawing's key stays: it is what plans and models name.
 *
 * @throws AppError forbidden; conflict where it is no draft any more, or somebody else changed it meanwhile
 */
export async function changeDrawingDraft(
  viewer: Viewer,
  { id, seen, drawing }: ChangeDrawingDraft,
  at: Date = new Date(),
): Promise<void> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const what = { action: "drawing.draft-changed", payload: { id, key: drawing.key, revision: drawing.revision }, at };
  await changeSetup(viewer, { ...what, keyField: "revision" }, async (db) => {
    await assertDraftSeen(
      db,
      sql`select state::text as state, md5(content::text) as seen from drawing_revision
        where plant_id = ${plantId} and id = ${id} for update`,
      seen,
    );
    const { rows } = await db.query<{ key: string }>(sql`
      select d.key from drawing d join drawing_revision r on r.plant_id = d.plant_id and r.drawing_id = d.id
      where r.plant_id = ${plantId} and r.id = ${id}`);
    if (rows[0]?.key !== drawing.key)
      throw new AppError("invalid-input", "The key of a drawing stays as it is. Nothing was changed.", {
        fields: [{ path: "key", message: `must stay ${rows[0]?.key}` }],
      });
    await db.query(sql`
      update drawing_revision set revision = ${drawing.revision}, content = ${canonicalJson(drawing)}::jsonb
      where plant_id = ${plantId} and id = ${id}`);
    await replaceCharacteristics(db, plantId, id, drawing.characteristics);
  });
}

/**
 * Changes a drafted plan revision.
 *
 * @returns what the plan's uncertainty does to the tolerances, in sentences
 * @throws AppError forbidden; conflict where it is no draft any more, or somebody else changed it meanwhile; invalid-input
 */
export async function changePlanDraft(
  viewer: Viewer,
  input: ChangePlanDraft,
  at: Date = new Date(),
): Promise<{ readonly warnings: readonly string[] }> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  return changeSetup(viewer, { action: "plan.draft-changed", payload: { id: input.id }, at }, async (db) => {
    await assertDraftSeen(
      db,
      sql`select state::text as state, md5(concat(reading_names::text, frames::text, settings::text)) as seen
        from measuring_plan_revision where plant_id = ${plantId} and id = ${input.id} for update`,
      input.seen,
    );
    const { rows } = await db.query<{ drawingId: string; content: ShellDrawing }>(sql`
      select d.drawing_id as "drawingId", d.content from drawing_revision d
      join measuring_plan_revision r on r.plant_id = d.plant_id and r.id = ${input.id}
      join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id and p.drawing_id = d.drawing_id
      where d.plant_id = ${plantId} and d.id = ${input.drawingRevisionId} and d.state <> 'draft'`);
    const found = rows[0];
    if (!found)
      throw new AppError(
        "not-found",
        "The drawing revision is not one of this plan's, or not released. Nothing was changed.",
      );
    const { content: drawing, drawingId } = found;
    const names = planNamesFor(drawing, input.readingNames);
    await assertNamedPlans(db, plantId, drawingId, input.settings);
    await db.query(sql`
      update measuring_plan_revision set drawing_revision_id = ${input.drawingRevisionId}, reading_names = ${input.readingNames},
        frames = ${canonicalJson(input.frames)}::jsonb, settings = ${canonicalJson(input.settings ?? {})}::jsonb
      where plant_id = ${plantId} and id = ${input.id}`);
    await db.query(sql`
      update measuring_plan p set title = ${input.title} from measuring_plan_revision r
      where p.plant_id = ${plantId} and r.plant_id = p.plant_id and r.plan_id = p.id and r.id = ${input.id}`);
    return { warnings: uncertaintyWarnings(drawing, names, measuringOptions(input.settings)) };
  });
}
