import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
import { AppError } from "@/lib/errors";
import type { PlanSettings } from "@/lib/schemas/plan";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { drawingColumns } from "../db/columns/drawing";
import { drawingRevisionColumns } from "../db/columns/drawing-revision";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { iso } from "../plant/queries";
import { PLANS_WORDS } from "./words";

const words = PLANS_WORDS.queries;

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

const listedPlan = together(
  measuringPlanRevisionColumns("r", ["id", "revision", "state", "readingNames", "frames", "releasedAt"]),
  measuringPlanColumns("p", ["key", "title"]),
  drawingColumns("d", { drawingKey: "key" }),
  drawingRevisionColumns("dr", { drawingRevision: "revision", drawing: "content" }),
);

/** Measuring plan revisions, released ones first. */
export async function listPlans(viewer: Viewer): Promise<readonly PlanItem[]> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<RowOf<typeof listedPlan>>(sql`
    select ${listedPlan}
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

const wholePlan = together(
  listedPlan,
  measuringPlanRevisionColumns("r", ["settings"]),
  drawingRevisionColumns("dr", { drawingRevisionId: "id", drawingState: "state" }),
);

/** One revision of a measuring plan. @throws AppError not-found */
export async function getPlanRevision(viewer: Viewer, id: string): Promise<PlanRevisionPage> {
  assertMay(viewer, "setup.view");
  const { rows } = await getPool().query<RowOf<typeof wholePlan> & Pick<PlanRevisionPage, "seen" | "revisions">>(sql`
    select ${wholePlan},
      md5(concat(r.reading_names::text, r.frames::text, r.settings::text)) as seen,
      (select coalesce(jsonb_agg(jsonb_build_object('id', o.id, 'revision', o.revision, 'state', o.state) order by o.created_at desc), '[]')
        from measuring_plan_revision o where o.plant_id = r.plant_id and o.plan_id = r.plan_id) as revisions
    from measuring_plan_revision r
    join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
    join drawing_revision dr on dr.plant_id = r.plant_id and dr.id = r.drawing_revision_id
    join drawing d on d.plant_id = dr.plant_id and d.id = dr.drawing_id
    where r.plant_id = ${viewer.plantId} and r.id::text = ${id}`);
  const row = rows[0];
  if (!row) throw new AppError("not-found", words.isNoSuchPlanRevision);
  return { ...row, releasedAt: iso(row.releasedAt) };
}
