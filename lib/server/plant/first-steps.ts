import "server-only";
import type { Role } from "../../schemas/people";
import { assertMay, mayByRole, mayDo, type Action } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { PLANT_WORDS } from "./words";

const words = PLANT_WORDS.firstSteps;

export type FirstStep = {
  readonly key: keyof Counts;
  /** What has to be made, as an order. */
  readonly title: string;
  /** What it is for. */
  readonly why: string;
  readonly href: string;
  /** What somebody must be allowed who makes it. */
  readonly needs: Action;
  readonly done: boolean;
  /** Who may do it and can sign in, by name, where the viewer may not. */
  readonly ask: readonly string[];
};

type Counts = {
  readonly lines: number;
  readonly operations: number;
  readonly stations: number;
  readonly suppliers: number;
  readonly rings: number;
  readonly gauges: number;
  readonly drawings: number;
  readonly plans: number;
  readonly models: number;
  readonly inspectors: number;
  readonly batches: number;
  readonly measured: number;
};

type Step = Omit<FirstStep, "done" | "ask">;

const DRAFT = "setup.draft" as const;
const STEPS: readonly Step[] = [
  {
    key: "lines",
    title: words.addLine,
    why: words.whereFramesAreMade,
    href: "/setup/plant",
    needs: DRAFT,
  },
  {
    key: "operations",
    title: words.addOperation,
    why: words.placeInRouteWhereFrames,
    href: "/setup/plant",
    needs: DRAFT,
  },
  {
    key: "stations",
    title: words.addStation,
    why: words.whereOneInspectorMeasures,
    href: "/setup/plant",
    needs: DRAFT,
  },
  {
    key: "drawings",
    title: words.draftAndReleaseDrawing,
    why: words.byLimitsFramesAreJudged,
    href: "/setup/drawings/new",
    needs: DRAFT,
  },
  {
    key: "plans",
    title: words.draftAndReleaseMeasuringPlan,
    why: words.saysWhatIsRead,
    href: "/setup/plans/new",
    needs: DRAFT,
  },
  {
    key: "rings",
    title: words.addSettingRing,
    why: words.comparatorIsSet,
    href: "/setup/gauges",
    needs: "gauges.manage",
  },
  {
    key: "gauges",
    title: words.addGaugeWithCalibration,
    why: words.withoutOneNoReadingProves,
    href: "/setup/gauges",
    needs: "gauges.manage",
  },
  {
    key: "inspectors",
    title: words.addInspector,
    why: words.everyReadingCarriesWhoTook,
    href: "/setup/people",
    needs: "people.manage",
  },
  {
    key: "suppliers",
    title: words.addSupplier,
    why: words.yourOwnWorkshopIsOne,
    href: "/setup/plant",
    needs: DRAFT,
  },
  { key: "models", title: words.addFrameModel, why: words.isBuiltToOneDrawing, href: "/setup/plant", needs: DRAFT },
  {
    key: "batches",
    title: words.openBatch,
    why: words.withSerialsOfFrames,
    href: "/setup/batches",
    needs: DRAFT,
  },
  {
    key: "measured",
    title: words.measureFirstFrame,
    why: words.scanOnLineAndKey,
    href: "/line",
    needs: "line.inspect",
  },
];

const MOST_HELPERS = 100;
const helper = personColumns("p", ["name"]);

/** Who can sign in, with their roles. */
async function readHelpers(plantId: string) {
  const { rows } = await getPool().query<RowOf<typeof helper> & { roles: Role[] }>(sql`
    select ${helper}, array_agg(r.role::text order by r.role) as roles
    from person p join person_role r on r.plant_id = p.plant_id and r.person_id = p.id
    where p.plant_id = ${plantId} and p.active and p.user_id is not null
    group by p.id, p.name order by p.name, p.id limit ${MOST_HELPERS}`);
  return rows;
}

/**
 * What a plant needs before its first frame can be measured and judged, in the order in which it can be made.
 *
 * @throws AppError forbidden
 */
export async function listFirstSteps(viewer: Viewer, now: Date = new Date()): Promise<readonly FirstStep[]> {
  assertMay(viewer, "setup.view");
  const { plantId } = viewer;
  const { rows } = await getPool().query<Counts>(sql`
    select
      (select count(*)::int from line where plant_id = ${plantId}) as lines,
      (select count(*)::int from operation where plant_id = ${plantId}) as operations,
      (select count(*)::int from station where plant_id = ${plantId}) as stations,
      (select count(*)::int from supplier where plant_id = ${plantId}) as suppliers,
      (select count(*)::int from setting_ring where plant_id = ${plantId}) as rings,
      (select count(distinct gauge_id)::int from calibration
        where plant_id = ${plantId} and gauge_id is not null and at <= ${now} and due_at > ${now}) as gauges,
      (select count(*)::int from drawing_revision where plant_id = ${plantId} and state = 'released') as drawings,
      (select count(*)::int from measuring_plan_revision where plant_id = ${plantId} and state = 'released') as plans,
      (select count(*)::int from frame_model where plant_id = ${plantId}) as models,
      (select count(*)::int from person p where p.plant_id = ${plantId} and p.active and exists (select 1 from person_role r
        where r.plant_id = p.plant_id and r.person_id = p.id and r.role = 'inspector')) as inspectors,
      (select count(*)::int from batch where plant_id = ${plantId}) as batches,
      (select count(*)::int from (select 1 from inspection where plant_id = ${plantId} limit 1) one) as measured`);
  const counts = rows[0];
  const missing = STEPS.filter((step) => !mayDo(viewer, step.needs));
  const helpers = missing.length === 0 ? [] : await readHelpers(plantId);
  const askedFor = (needs: Action): readonly string[] =>
    mayDo(viewer, needs)
      ? []
      : helpers.filter(({ roles }) => roles.some((role) => mayByRole(role, needs))).map(({ name }) => name);
  // A plant that has measured needs nothing more: it reads absolute sizes where it has no ring.
  const isThere = (key: keyof Counts): boolean => (counts?.[key] ?? 0) > 0 || (counts?.measured ?? 0) > 0;
  return STEPS.map((step) => ({ ...step, done: isThere(step.key), ask: askedFor(step.needs) }));
}
