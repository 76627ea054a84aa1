import "server-only";
import type pg from "pg";
import { FEATURE_NAMES } from "@/lib/core/metrology/features";
import { CHARACTERISTIC_UNIT, type ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { uuidV7 } from "@/lib/schemas/identifier";
import { type ChangeDrawingDraft, type DraftDrawing, shellDrawingSchema } from "@/lib/schemas/drawing";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { drawingColumns } from "../db/columns/drawing";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";
import { parseInput } from "../base/parse-input";
import { changeSetup, idOf } from "../plant/change-setup";
import type { Made } from "../plant/made";
import { assertDraftSeen } from "./assert-draft-seen";
import { DRAWINGS_WORDS } from "./words";

const words = DRAWINGS_WORDS.commands;

/** Writes the characteristics of a draft again, in their order. */
export async function replaceCharacteristics(
  db: pg.ClientBase,
  plantId: string,
  revisionId: string,
  list: ShellDrawing["characteristics"],
): Promise<void> {
  await db.query(sql`delete from characteristic where plant_id = ${plantId} and drawing_revision_id = ${revisionId}`);
  await db.query(sql`
    insert into characteristic (plant_id, drawing_revision_id, name, position, unit, lower, upper, target, critical, uncertainty)
    select ${plantId}, ${revisionId}, r.* from unnest(${list.map((one) => one.name)}::text[],
      ${list.map((_, place) => place)}::int2[], ${list.map((one) => CHARACTERISTIC_UNIT[one.name])}::text[],
      ${list.map((one) => one.lower)}::float8[], ${list.map((one) => one.upper)}::float8[],
      ${list.map((one) => one.target)}::float8[], ${list.map((one) => one.critical)}::boolean[],
      ${list.map((one) => one.uncertainty)}::float8[]) as r`);
}

async function insertDrawingRevision(
  db: pg.ClientBase,
  plantId: string,
  drawing: ShellDrawing,
  at: Date,
): Promise<string> {
  await db.query(sql`
    insert into drawing (plant_id, id, key, title) values (${plantId}, ${uuidV7(at.getTime())}, ${drawing.key}, ${drawing.title})
    on conflict (plant_id, key) do nothing`);
  const id = uuidV7(at.getTime());
  await db.query(sql`
    insert into drawing_revision (plant_id, id, drawing_id, revision, content, feature_names, created_at)
    values (${plantId}, ${id}, ${await idOf(db, plantId, "drawing", drawing.key)}, ${drawing.revision},
      ${canonicalJson(drawing)}::jsonb, ${[...FEATURE_NAMES]}, ${at})`);
  await replaceCharacteristics(db, plantId, id, drawing.characteristics);
  return id;
}

/**
 * Drafts a drawing, or a new revision of one.
 *
 * @throws AppError conflict where the revision is there already, or `isNew` says that the drawing must not be
 */
export async function draftDrawing(
  viewer: Viewer,
  { drawing, isNew = false }: DraftDrawing,
  at: Date = new Date(),
): Promise<Made> {
  assertMay(viewer, "setup.draft");
  const { plantId } = viewer;
  const what = { action: "drawing.drafted", payload: { key: drawing.key, revision: drawing.revision }, at };
  return changeSetup(viewer, { ...what, keyField: "revision" }, async (db) => {
    if (isNew) {
      const known = await db.query(sql`select 1 from drawing where plant_id = ${plantId} and key = ${drawing.key}`);
      if (known.rows.length > 0)
        throw new AppError("conflict", words.isDrawingAlready(drawing.key), {
          fields: [{ path: "key", message: words.isTakenAlready }],
        });
    }
    return { id: await insertDrawingRevision(db, plantId, drawing, at) };
  });
}

const releasedRevision = drawingRevisionColumns("drawing_revision", ["drawingId", "content"]);
const drawn = drawingColumns("d", ["key"]);

/** Releases a drafted drawing revision: it never changes again, and supersedes the one before. */
export async function releaseDrawing(viewer: Viewer, id: string, at: Date = new Date()): Promise<void> {
  assertMay(viewer, "setup.release");
  const { plantId } = viewer;
  const subjects = (db: pg.ClientBase) => subjectsOf(db, plantId, "drawing_revision", [id]);
  await changeSetup(viewer, { action: "drawing.released", payload: { id }, at, subjects }, async (db) => {
    const personId = viewer.kind === "person" ? viewer.personId : null;
    const { rows } = await db.query<RowOf<typeof releasedRevision>>(sql`
      update drawing_revision set state = 'released', released_at = ${at}, released_by_id = ${personId}
      where plant_id = ${plantId} and id = ${id} and state = 'draft'
      returning ${releasedRevision}`);
    const released = rows[0];
    if (!released) throw new AppError("conflict", words.revisionIsNoDraftAny);
    parseInput(shellDrawingSchema, released.content);
    await db.query(sql`
      update drawing_revision set state = 'superseded'
      where plant_id = ${plantId} and drawing_id = ${released.drawingId} and state = 'released' and id <> ${id}`);
  });
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
    const { rows } = await db.query<RowOf<typeof drawn>>(sql`
      select ${drawn} from drawing d join drawing_revision r on r.plant_id = d.plant_id and r.drawing_id = d.id
      where r.plant_id = ${plantId} and r.id = ${id}`);
    if (rows[0]?.key !== drawing.key)
      throw new AppError("invalid-input", words.keyOfDrawingStays, {
        fields: [{ path: "key", message: words.mustStay(rows[0]?.key) }],
      });
    await db.query(sql`
      update drawing_revision set revision = ${drawing.revision}, content = ${canonicalJson(drawing)}::jsonb
      where plant_id = ${plantId} and id = ${id}`);
    await replaceCharacteristics(db, plantId, id, drawing.characteristics);
  });
}
