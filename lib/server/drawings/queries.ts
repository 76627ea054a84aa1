import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { drawingColumns } from "../db/columns/drawing";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { iso } from "../plant/queries";
import { DRAWINGS_WORDS } from "./words";

const words = DRAWINGS_WORDS.queries;

export type DrawingItem = {
  readonly id: string;
  readonly key: string;
  readonly title: string;
  readonly revisions: readonly {
    readonly id: string;
    readonly revision: string;
    readonly state: string;
    readonly releasedAt: string | null;
  }[];
};

const listed = drawingColumns("d", ["id", "key", "title"]);

/** Drawings with their revisions, newest first. */
export async function listDrawings(viewer: Viewer): Promise<readonly DrawingItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<RowOf<typeof listed> & Pick<DrawingItem, "revisions">>(sql`
    select ${listed}, coalesce(jsonb_agg(jsonb_build_object('id', r.id, 'revision', r.revision, 'state', r.state,
      'releasedAt', r.released_at) order by r.created_at desc) filter (where r.id is not null), '[]') as revisions
    from drawing d left join drawing_revision r on r.plant_id = d.plant_id and r.drawing_id = d.id
    where d.plant_id = ${viewer.plantId} group by d.plant_id, d.id order by d.key`);
  return rows;
}

export type DrawingRevisionPage = {
  readonly id: string;
  readonly drawingKey: string;
  readonly revision: string;
  readonly state: string;
  readonly releasedAt: string | null;
  readonly releasedBy: string | null;
  /** Fingerprint of the content, for a change that must not write over another's. */
  readonly seen: string;
  readonly drawing: ShellDrawing;
  /** Name of the revision that was drafted last: the next one follows it. */
  readonly newestRevision: string;
  readonly others: readonly { readonly id: string; readonly revision: string; readonly state: string }[];
  /** Plans in force whose released revision is for another revision of this drawing. */
  readonly plansElsewhere: readonly { readonly id: string; readonly key: string; readonly drawingRevision: string }[];
};

const revision = together(
  drawingRevisionColumns("r", ["id", "revision", "state", "releasedAt"]),
  drawingRevisionColumns("r", { drawing: "content" }),
  drawingColumns("d", { drawingKey: "key" }),
);
type Revision = RowOf<typeof revision> &
  Pick<DrawingRevisionPage, "releasedBy" | "seen" | "newestRevision" | "others" | "plansElsewhere">;

/** One revision of a drawing. */
export async function getDrawingRevision(viewer: Viewer, id: string): Promise<DrawingRevisionPage> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Revision>(sql`
    select ${revision}, ${nameThen("p", "r.released_at")} as "releasedBy", md5(r.content::text) as seen,
      (select n.revision from drawing_revision n where n.plant_id = r.plant_id and n.drawing_id = r.drawing_id
        order by n.created_at desc, n.id desc limit 1) as "newestRevision",
      (select coalesce(jsonb_agg(jsonb_build_object('id', o.id, 'revision', o.revision, 'state', o.state) order by o.created_at desc), '[]')
        from drawing_revision o where o.plant_id = r.plant_id and o.drawing_id = r.drawing_id and o.id <> r.id) as others,
      (select coalesce(jsonb_agg(jsonb_build_object('id', mr.id, 'key', mp.key, 'drawingRevision', od.revision) order by mp.key), '[]')
        from measuring_plan_revision mr
        join measuring_plan mp on mp.plant_id = mr.plant_id and mp.id = mr.plan_id
        join drawing_revision od on od.plant_id = mr.plant_id and od.id = mr.drawing_revision_id
        where mr.plant_id = r.plant_id and mr.state = 'released' and mp.drawing_id = r.drawing_id and od.id <> r.id) as "plansElsewhere"
    from drawing_revision r
    join drawing d on d.plant_id = r.plant_id and d.id = r.drawing_id
    left join person p on p.plant_id = r.plant_id and p.id = r.released_by_id
    where r.plant_id = ${viewer.plantId} and r.id::text = ${id}`);
  const row = rows[0];
  if (!row) throw new AppError("not-found", words.isNoSuchDrawingRevision);
  return { ...row, releasedAt: iso(row.releasedAt) };
}
