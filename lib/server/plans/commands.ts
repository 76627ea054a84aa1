import "server-only";
import type pg from "pg";
import { CoreError } from "@/lib/core/errors";
import { compileMeasurement } from "@/lib/core/metrology/measure-frame";
import { type ReadingName, formatReadingName, parseReadingName } from "@/lib/core/metrology/reading-name";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { planWarningText } from "@/lib/format/plan-words";
import { uncertaintyWarnings } from "@/lib/quality/plan-uncertainty";
import { uuidV7 } from "@/lib/schemas/identifier";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import type { ChangePlanDraft, DraftPlan } from "@/lib/schemas/plan";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { assertDraftSeen } from "../drawings/assert-draft-seen";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";
import { changeSetup, idOf } from "../plant/change-setup";
import type { Made } from "../plant/made";
import { PLANS_WORDS } from "./words";

const words = PLANS_WORDS.commands;

const drawn = drawingRevisionColumns("d", ["drawingId", "content"]);
const planned = measuringPlanColumns("p", ["drawingId"]);
const releasedPlan = measuringPlanColumns("p", ["key"]);
const releasedNow = together(
  measuringPlanRevisionColumns("r", ["planId"]),
  drawingRevisionColumns("d", { drawingState: "state" }),
);

export type DraftedPlan = Made & {
  /** What the plan's uncertainty does to the tolerances, in sentences. */
  readonly warnings: readonly string[];
};

/**
 * The readings of a plan as names, checked against the drawing.
 *
 * @throws AppError invalid-input where a reading cannot be taken on this shell
 */
export function planNamesFor(drawing: ShellDrawing, readingNames: readonly string[]): readonly ReadingName[] {
  const names = readingNames.flatMap((text) => {
    const name = parseReadingName(text);
    return name.ok ? [name.value] : [];
  });
  const tooDeep = names.find((name) => "depthMm" in name && name.depthMm > drawing.seatDepthMm);
  if (tooDeep) {
    const message = words.liesDeeperThanSeat(formatReadingName(tooDeep), drawing.seatDepthMm);
    throw new AppError("invalid-input", words.planDoesNotFitDrawing(message), {
      fields: [{ path: "readingNames", message }],
    });
  }
  try {
    compileMeasurement(names, drawing);
  } catch (error) {
    if (!(error instanceof CoreError)) throw error;
    const message = error.message.replace(/^[A-Za-z]+: /, "");
    throw new AppError("invalid-input", words.planDoesNotFitDrawing(message), {
      fields: [{ path: "readingNames", message }],
      cause: error,
    });
  }
  return names;
}

/**
 * Plans that a plan names (that of its first-off, weaker ones that count) must be there, released, for the same drawing.
 *
 * @throws AppError invalid-input
 */
export async function assertNamedPlans(
  db: pg.ClientBase,
  plantId: string,
  drawingId: string,
  settings: DraftPlan["settings"],
): Promise<void> {
  const first = settings?.firstOff?.plan;
  const named = [
    ...(first === undefined ? [] : [{ path: "settings.firstOff.plan", key: first }]),
    ...(settings?.weakerPlans ?? []).map((key) => ({ path: "settings.weakerPlans", key })),
  ];
  if (named.length === 0) return;
  const { rows } = await db.query<RowOf<typeof releasedPlan>>(sql`
    select distinct ${releasedPlan} from measuring_plan p
    join measuring_plan_revision r on r.plant_id = p.plant_id and r.plan_id = p.id
    where p.plant_id = ${plantId} and p.key = any(${named.map(({ key }) => key)}) and p.drawing_id = ${drawingId}
      and r.state = 'released'`);
  const known = new Set(rows.map(({ key }) => key));
  const wrong = named.find(({ key }) => !known.has(key));
  if (wrong === undefined) return;
  const message = words.mustBeReleasedPlan;
  throw new AppError("invalid-input", words.planCannotBeNamedHere(wrong.key, message), {
    fields: [{ path: wrong.path, message }],
  });
}

/**
 * Drafts a measuring plan, or a new revision of one, for a drawing revision.
 *
 * @throws AppError not-found (no released drawing revision), invalid-input (a reading that cannot be), conflict
 */
export async function draftPlan(viewer: Viewer, input: DraftPlan, at: Date = new Date()): Promise<DraftedPlan> {
  assertMay(viewer, "setup.draft");
  const what = { action: "plan.drafted", payload: { key: input.key, revision: input.revision }, at };
  return changeSetup(viewer, { ...what, keyField: "revision" }, async (db) => {
    const { plantId } = viewer;
    const { rows } = await db.query<RowOf<typeof drawn>>(sql`
      select ${drawn} from drawing_revision d
      where d.plant_id = ${plantId} and d.id = ${input.drawingRevisionId} and d.state <> 'draft'`);
    const drawing = rows[0];
    if (!drawing) throw new AppError("not-found", words.drawingRevisionIsNotKnown);
    const names = planNamesFor(drawing.content, input.readingNames);
    await assertNamedPlans(db, plantId, drawing.drawingId, input.settings);
    const known = await db.query<RowOf<typeof planned>>(sql`
      select ${planned} from measuring_plan p where plant_id = ${plantId} and key = ${input.key}`);
    if (known.rows.some((plan) => input.isNew === true || plan.drawingId !== drawing.drawingId))
      throw new AppError("conflict", words.isPlanAlready(input.key), {
        fields: [{ path: "key", message: words.isTakenAlready }],
      });
    await db.query(sql`
      insert into measuring_plan (plant_id, id, key, title, drawing_id)
      values (${plantId}, ${uuidV7(at.getTime())}, ${input.key}, ${input.title}, ${drawing.drawingId})
      on conflict (plant_id, key) do nothing`);
    const planId = await idOf(db, plantId, "measuring_plan", input.key);
    const id = uuidV7(at.getTime());
    await db.query(sql`
      insert into measuring_plan_revision (plant_id, id, plan_id, drawing_revision_id, revision, reading_names, frames, settings,
        created_at)
      values (${plantId}, ${id}, ${planId}, ${input.drawingRevisionId}, ${input.revision}, ${input.readingNames},
        ${canonicalJson(input.frames)}::jsonb, ${canonicalJson(input.settings ?? {})}::jsonb, ${at})`);
    return {
      id,
      warnings: uncertaintyWarnings(drawing.content, names, measuringOptions(input.settings)).map(planWarningText),
    };
  });
}

/** Releases a drafted plan revision: stations load it, and it supersedes the one before. */
export async function releasePlan(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  const { plantId } = viewer;
  const subjects = (db: pg.ClientBase) => subjectsOf(db, plantId, "measuring_plan_revision", [id]);
  await changeSetup(viewer, { action: "plan.released", payload: { id }, at, subjects }, async (db) => {
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<RowOf<typeof releasedNow>>(sql`
      update measuring_plan_revision r set state = 'released', released_at = ${at}, released_by_id = ${personId}
      from drawing_revision d
      where r.plant_id = ${plantId} and r.id = ${id} and r.state = 'draft' and d.plant_id = r.plant_id
        and d.id = r.drawing_revision_id
      returning ${releasedNow}`);
    const released = rows[0];
    if (!released) throw new AppError("conflict", words.revisionIsNoDraftAny);
    if (released.drawingState !== "released") throw new AppError("refused", words.plansDrawingRevisionWasSuperseded);
    await db.query(sql`
      update measuring_plan_revision set state = 'superseded'
      where plant_id = ${plantId} and plan_id = ${released.planId} and state = 'released' and id <> ${id}`);
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
    const { rows } = await db.query<RowOf<typeof drawn>>(sql`
      select ${drawn} from drawing_revision d
      join measuring_plan_revision r on r.plant_id = d.plant_id and r.id = ${input.id}
      join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id and p.drawing_id = d.drawing_id
      where d.plant_id = ${plantId} and d.id = ${input.drawingRevisionId} and d.state <> 'draft'`);
    const found = rows[0];
    if (!found) throw new AppError("not-found", words.drawingRevision);
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
    return { warnings: uncertaintyWarnings(drawing, names, measuringOptions(input.settings)).map(planWarningText) };
  });
}
