import "server-only";
import { measureFrame } from "@/lib/core/metrology/measure-frame";
import { formAllowance } from "@/lib/core/metrology/plan-blindness";
import {
  exceededForm,
  FORM_FRAMES,
  type FormExceeded,
  type SeatForm,
  shownForm,
  streamForm,
  type StreamForm,
  type SuggestedForm,
  suggestedForm,
} from "@/lib/quality/observed-form";
import { assessPlanUncertainty } from "@/lib/quality/plan-uncertainty";
import { READING_STATES } from "@/lib/schemas/inspection";
import { measuringOptions } from "@/lib/schemas/measuring-options";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { batchColumns } from "../db/columns/batch";
import { frameModelColumns } from "../db/columns/frame-model";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { operationColumns } from "../db/columns/operation";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { getReferenceData, type PlanReference } from "../evidence/reference-data";
import type { PlanRevisionPage } from "./queries";

const nameColumns = together(
  lineColumns("l", { line: "key" }),
  frameModelColumns("m", { model: "name" }),
  operationColumns("o", { operation: "name" }),
);
/** Frames of one drawing, model, line and operation. */
type StreamName = RowOf<typeof nameColumns>;

const idColumns = together(lineColumns("l", { lineId: "id" }), frameModelColumns("m", { modelId: "id" }));
const formColumns = inspectionColumns("i", ["frameId", "planRevisionId", "readings", "states", "measuredAt"]);

type FrameRow = StreamName & RowOf<typeof idColumns> & RowOf<typeof formColumns>;

type Stream = StreamName &
  RowOf<typeof idColumns> & {
    /** Newest first. */
    readonly frames: { readonly frameId: string; readonly at: Date; readonly form: readonly SeatForm[] }[];
  };

/** Inspections of one line and operation that are looked at: those of two models as often as not. */
const MOST_READ = 600;
/** Batches that a warning names. */
const MOST_BATCHES = 20;
/** From here on a reading is odd: confirmed after question, or off the scale. */
const FIRST_ODD = READING_STATES.indexOf("confirmed");

/** Plans whose sweeps tell lobes. */
function seesLobes({ compiled }: PlanReference): boolean {
  return compiled.designs.swept.some(({ sections }) =>
    sections.some(({ sweep }) => (sweep?.lobes?.harmonics.orders.length ?? 0) >= 3),
  );
}

/** Form of the frames of a drawing, stream by stream; of a frame that was measured again the newest counts. */
async function readStreams(plantId: string, drawingKey: string, since: string | null): Promise<Stream[]> {
  const reference = await getReferenceData(plantId);
  const plans = [...reference.plans.values()].filter((plan) => plan.drawing.key === drawingKey && seesLobes(plan));
  const { rows } = await getPool().query<FrameRow>(sql`
    select ${nameColumns}, ${idColumns}, ${formColumns}
    from (select distinct s.line_id, s.operation_id, s.drawing_id from stream s
      join drawing d on d.plant_id = s.plant_id and d.id = s.drawing_id
      where s.plant_id = ${plantId} and d.key = ${drawingKey}) s
    cross join lateral (
      select i.* from inspection i
      where i.plant_id = ${plantId} and i.line_id = s.line_id and i.operation_id = s.operation_id and i.drawing_id = s.drawing_id
        and i.plan_revision_id = any(${plans.map(({ id }) => id)}::uuid[])
        and i.measured_at > coalesce(${since}::timestamptz, '-infinity')
        and ${notWithdrawn}
      order by i.measured_at desc, i.id desc limit ${MOST_READ}) i
    join line l on l.plant_id = i.plant_id and l.id = i.line_id
    join operation o on o.plant_id = i.plant_id and o.id = i.operation_id
    join batch b on b.plant_id = i.plant_id and b.id = i.batch_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    order by l.key, m.name, o.name, i.measured_at desc, i.id desc`);
  const streams = new Map<string, Stream>();
  for (const { frameId, planRevisionId, readings, states, measuredAt, ...name } of rows) {
    const plan = reference.plans.get(planRevisionId);
    if (plan === undefined || states.some((state) => state >= FIRST_ODD)) continue;
    const key = JSON.stringify([name.lineId, name.modelId, name.operation]);
    const stream = streams.get(key) ?? { ...name, frames: [] };
    streams.set(key, stream);
    if (stream.frames.some((one) => one.frameId === frameId)) continue;
    const form = shownForm(plan.drawing, plan.compiled, measureFrame(plan.compiled, readings));
    stream.frames.push({ frameId, at: measuredAt, form });
  }
  return [...streams.values()];
}

export type ObservedStream = StreamName & {
  readonly frames: number;
  /** When the oldest of them was measured, ISO 8601. */
  readonly since: string;
  readonly forms: readonly StreamForm[];
};

export type ObservedForm = {
  /** Null where no stream of the drawing has enough frames; `since` is the day of the oldest frame behind it. */
  readonly suggestion: (SuggestedForm & { readonly since: string }) | null;
  readonly streams: readonly ObservedStream[];
};

/** What the stored sweeps of a drawing's streams show of its form, for the plan that states it. */
export async function getObservedForm(viewer: Viewer, drawingKey: string): Promise<ObservedForm> {
  assertMay(viewer, "setup.view");
  const streams = (await readStreams(viewer.plantId, drawingKey, null)).map((stream): ObservedStream => {
    const { line, model, operation } = stream;
    const frames = stream.frames.slice(0, FORM_FRAMES.most);
    const since = (frames.at(-1)?.at ?? new Date(0)).toISOString();
    return { line, model, operation, frames: frames.length, since, forms: streamForm(frames.map(({ form }) => form)) };
  });
  const suggested = suggestedForm(streams.map(({ forms }) => forms));
  const oldest = streams
    .filter(({ frames }) => frames >= FORM_FRAMES.fewest)
    .map(({ since }) => since)
    .sort()[0];
  return {
    streams,
    suggestion:
      suggested === null || oldest === undefined ? null : { ...suggested, since: oldest.slice(0, "2026-11-30".length) },
  };
}

/** A stream that shows more form than a plan states, with the batches whose frames were judged by that plan. */
export type ExceededStream = StreamName & {
  readonly exceeded: readonly FormExceeded[];
  readonly batches: readonly string[];
  readonly moreBatches: number;
};

const judgedBatch = batchColumns("b", ["key"]);

async function judgedBatches(plantId: string, planRevisionId: string, { lineId, modelId }: Stream): Promise<string[]> {
  const { rows } = await getPool().query<RowOf<typeof judgedBatch>>(sql`
    select ${judgedBatch} from batch b where b.plant_id = ${plantId} and b.line_id = ${lineId} and b.model_id = ${modelId}
      and exists (select 1 from inspection i where i.plant_id = b.plant_id and i.batch_id = b.id
        and i.plan_revision_id = ${planRevisionId})
    order by b.opened_at desc, b.id`);
  return rows.map(({ key }) => key);
}

/**
 * Streams whose frames since a plan was released show more form than its U contains; [] for a plan that sees everything, or that
 * was never released.
 */
export async function listExceededForm(
  viewer: Viewer,
  plan: Pick<PlanRevisionPage, "id" | "drawingKey" | "drawing" | "settings" | "releasedAt">,
  names: Parameters<typeof assessPlanUncertainty>[1],
): Promise<readonly ExceededStream[]> {
  assertMay(viewer, "setup.view");
  const { releasedAt, drawing, settings } = plan;
  if (releasedAt === null) return [];
  const assessed = assessPlanUncertainty(drawing, names, measuringOptions(settings));
  if (assessed.every(({ unseen }) => unseen === 0)) return [];
  const stated = settings.form ?? formAllowance(drawing);
  const streams = await readStreams(viewer.plantId, plan.drawingKey, releasedAt);
  const found = streams.flatMap((stream) => {
    const exceeded = exceededForm(
      stream.frames.map(({ form }) => form),
      stated,
    );
    return exceeded.length === 0 ? [] : [{ stream, exceeded }];
  });
  return Promise.all(
    found.map(async ({ stream, exceeded }) => {
      const batches = await judgedBatches(viewer.plantId, plan.id, stream);
      const { line, model, operation } = stream;
      const named = batches.slice(0, MOST_BATCHES);
      return { line, model, operation, exceeded, batches: named, moreBatches: batches.length - named.length };
    }),
  );
}
