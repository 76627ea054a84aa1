import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import type { PlanSettings } from "@/lib/schemas/plan";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { iso } from "../plant/queries";

export type PlanItem = {
  readonly id: string;
  readonly key: string;
  readonly title: string;
  readonly revision: string;
  readonly state: string;
  readonly drawingKey: string;
  readonly drawingRevision: string;
  readonly drawing: ShellDrawing;
  readonly readingNames: readonly string[];
  readonly frames: {
    readonly kind: string;
    readonly n?: number;
    readonly size?: number;
    readonly firstOff?: boolean;
  };
  readonly releasedAt: string | null;
};

/** Measuring plan revisions, released ones first. */
export async function listPlans(viewer: Viewer): Promise<readonly PlanItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<PlanItem, "releasedAt"> & { releasedAt: Date | null }>(sql`
    select r.id, p.key, p.title, r.revision, r.state::text as state, d.key as "drawingKey", dr.revision as "drawingRevision",
      dr.content as drawing, r.reading_names as "readingNames", r.frames, r.released_at as "releasedAt"
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision dr on dr.plant_id = r.plant_id and dr.id = r.drawing_revision_id
    join drawing d on d.plant_id = dr.plant_id and d.id = dr.drawing_id
    where r.plant_id = ${viewer.plantId}
    order by p.key, r.state = 'released' desc, r.created_at desc`);
  return rows.map((row) => ({ ...row, releasedAt: iso(row.releasedAt) }));
}

export type PlanRevisionPage = PlanItem & {
  readonly drawingRevisionId: string;
  readonly drawingState: string;
  /** Fingerprint of the draft, for a change that must not write over another's. */
  readonly seen: string;
  readonly settings: PlanSettings;
  readonly revisions: readonly { readonly id: string; readonly revision: string; readonly state: string }[];
};

/** One revision of a measuring plan. @throws AppError not-found */
export async function getPlanRevision(viewer: Viewer, id: string): Promise<PlanRevisionPage> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<Omit<PlanRevisionPage, "releasedAt"> & { releasedAt: Date | null }>(sql`
    select r.id, p.key, p.title, r.revision, r.state::text as state, d.key as "drawingKey", dr.revision as "drawingRevision",
      dr.id as "drawingRevisionId", dr.state::text as "drawingState", dr.content as drawing, r.reading_names as "readingNames",
      r.frames, r.settings, r.released_at as "releasedAt",
      md5(concat(r.reading_names::text, r.frames::text, r.settings::text)) as seen,
      (select coalesce(jsonb_agg(jsonb_build_object('id', o.id, 'revision', o.revision, 'state', o.state) order by o.created_at desc), '[]')
        from measuring_plan_revision o where o.plant_id = r.plant_id and o.plan_id = r.plan_id) as revisions
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision dr on dr.plant_id = r.plant_id and dr.id = r.drawing_revision_id
    join drawing d on d.plant_id = dr.plant_id and d.id = dr.drawing_id
    where r.plant_id = ${viewer.plantId} and r.id::text = ${id}`);
  const row = rows[0];
  if (!row) throw new AppError("not-found", "There is no such plan revision. Choose one under Setup.");
  return { ...row, releasedAt: iso(row.releasedAt) };
}
