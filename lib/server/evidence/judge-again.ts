import "server-only";
import type pg from "pg";
import { formatMoment } from "@/lib/format/date-text";
import { stateAfterJudgingAgain, type FrameState } from "@/lib/quality/frame-state";
import { toldCharacteristics } from "@/lib/format/judging-words";
import { holds as holdsFrame, type ToldCharacteristic } from "@/lib/quality/judge-frame";
import { judgeOperations } from "@/lib/quality/judge-operations";
import { CORE_VERSION } from "@/lib/core/version";
import { uuidV7 } from "@/lib/schemas/identifier";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { writeEvents, type WrittenEvent } from "../outbox/write-events";
import { holdBatches } from "./hold-batches";
import { askedOf } from "./batch-plan";
import { readEarlier } from "./earlier-inspections";
import type { ReferenceData } from "./reference-data";
import { calibrationAtInspection, notCalibrated } from "./calibrations";
import { canonicalJson } from "../journal/canonical-json";

/** Of a frame and its batch, with the batch's plan. */
const lockedColumns = together(
  frameColumns("f", ["id", "serial", "state", "batchId", "evidenceFrom", "shippedAt", "lastInspectionId"]),
  batchColumns("b", ["planId"]),
);
type LockedFrame = RowOf<typeof lockedColumns>;
const overdueFrame = inspectionColumns("i", ["frameId"]);

/** What judging again did. */
export type JudgedAgain = {
  readonly judged: number;
  /** Serials that were not held before and are now. */
  readonly held: readonly string[];
  /** Serials of shipped frames whose evidence is bad now. */
  readonly escaped: readonly string[];
  /** Keys of batches that hold by this. */
  readonly batchesHeld: readonly string[];
};

async function lockFramesById(db: pg.ClientBase, plantId: string, ids: readonly string[]): Promise<LockedFrame[]> {
  const { rows } = await db.query<LockedFrame>(sql`
    select ${lockedColumns} from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where f.plant_id = ${plantId} and f.id = any(${ids}::uuid[]) order by f.id for update of f`);
  return rows;
}

/** Those of some frames whose evidence rests on a gauge that was out of calibration. */
export async function isMeasuredOverdue(db: pg.ClientBase, plantId: string, frameIds: readonly string[]) {
  const { rows } = await db.query<RowOf<typeof overdueFrame>>(sql`
    select distinct ${overdueFrame} from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    cross join lateral unnest(i.gauge_keys) as k(key)
    join gauge g on g.plant_id = i.plant_id and g.key = k.key ${calibrationAtInspection}
    where i.plant_id = ${plantId} and i.frame_id = any(${frameIds}::uuid[]) and ${notCalibrated}
      and (f.evidence_from is null or i.measured_at > f.evidence_from)
      and ${notWithdrawn}`);
  return new Set(rows.map((row) => row.frameId));
}

type Verdicts = { frame: LockedFrame; state: FrameState; verdict: string; reasons: readonly ToldCharacteristic[] };

async function writeFrames(db: pg.ClientBase, plantId: string, judged: readonly Verdicts[]): Promise<void> {
  await db.query(sql`
    update frame f set state = r.state::"FrameState", verdict = r.verdict, judgement = r.judgement::jsonb,
      judged_by = ${CORE_VERSION}, version = f.version + 1
    from unnest(${judged.map((one) => one.frame.id)}::uuid[], ${judged.map((one) => one.state)}::text[],
      ${judged.map((one) => one.verdict)}::text[], ${judged.map((one) => canonicalJson(one.reasons))}::text[])
      as r(id, state, verdict, judgement)
    where f.plant_id = ${plantId} and f.id = r.id`);
}

async function openEscapes(
  db: pg.ClientBase,
  plantId: string,
  frames: readonly LockedFrame[],
  why: string,
  { now, zone }: { readonly now: Date; readonly zone: string },
): Promise<void> {
  if (frames.length === 0) return;
  await db.query(sql`
    insert into escape (plant_id, id, frame_id, inspection_id, reason, opened_at)
    select ${plantId}, r.id, r.frame_id, r.inspection_id, concat('Shipped ', r.shipped, '; since then: ', ${why}::text), ${now}
    from unnest(${frames.map(() => uuidV7(now.getTime()))}::uuid[], ${frames.map((one) => one.id)}::uuid[],
      ${frames.map((one) => one.lastInspectionId)}::uuid[],
      ${frames.map((one) => formatMoment(one.shippedAt ?? now, { zone }))}::text[])
      as r(id, frame_id, inspection_id, shipped)
    on conflict do nothing`);
}

/**
 * Judges some frames again by all their valid inspections, since something that was believed of their gauges no longer holds:
 * holds frames and batches, opens an escape for each shipped frame whose evidence is against it now, takes a hold back where
 * the doubt was the only reason. The lines are locked, so that no inspection comes between.
 *
 * @param options.reference - with what the gauges are worth now
 * @param options.why - the doubt in the words in which judging gives it as a reason, for the escapes too
 * @param options.isWhy - the same for doubts of several texts
 * @param options.holding - frames that the doubt holds although no verdict shows it, as a calibration that had run out
 * @param options.mayFree - true where a doubt went away: only then is a hold taken back
 */
export async function judgeAgain(
  db: pg.ClientBase,
  plantId: string,
  frameIds: readonly string[],
  options: {
    readonly reference: ReferenceData;
    readonly why: string;
    readonly holding?: ReadonlySet<string>;
    /** Tells the reasons that come of it, where they are not all `why`. */
    readonly isWhy?: (reason: ToldCharacteristic) => boolean;
    readonly mayFree: boolean;
    readonly now: Date;
  },
): Promise<JudgedAgain> {
  if (frameIds.length === 0) return { judged: 0, held: [], escaped: [], batchesHeld: [] };
  const { reference, why, holding, mayFree, now, isWhy = ({ reason }) => reason === why } = options;
  const frames = await lockFramesById(db, plantId, frameIds);
  const inspections = await readEarlier(db, plantId, frames, reference);
  const overdue = await isMeasuredOverdue(db, plantId, frameIds);
  const judged = frames.flatMap((frame) => {
    const { evidenceFrom } = frame;
    const valid = (inspections.get(frame.id) ?? []).filter(
      (one) => evidenceFrom === null || one.measuredAt > evidenceFrom,
    );
    const evidence = judgeOperations(valid, askedOf(frame.planId, reference));
    if (!evidence) return [];
    const { verdict, holds } = evidence;
    const reasons = toldCharacteristics(evidence.reasons);
    const byDoubt = holding?.has(frame.id) === true || reasons.some((one) => isWhy(one) && holdsFrame(one));
    const isFree = mayFree && !holds && !overdue.has(frame.id);
    const state = stateAfterJudgingAgain(frame.state, { byDoubt, isFree });
    return [{ frame, verdict, reasons, byDoubt, state }];
  });
  await writeFrames(db, plantId, judged);
  const held = judged.filter((one) => one.state === "held" && one.frame.state !== "held").map((one) => one.frame);
  const escaped = judged.filter((one) => one.frame.state === "shipped" && one.byDoubt).map((one) => one.frame);
  const batches = await holdBatches(
    db,
    plantId,
    held.map((frame) => frame.batchId),
    now,
  );
  await openEscapes(db, plantId, escaped, why, { now, zone: reference.zone });
  const events: readonly WrittenEvent[] = [
    ...batches.map(({ id }) => ({ topic: "batch.held" as const, payload: { id } })),
    ...escaped.map(({ serial }) => ({ topic: "escape.opened" as const, payload: { serial } })),
  ];
  await writeEvents(db, plantId, events, now);
  return {
    judged: judged.length,
    held: held.map((frame) => frame.serial),
    escaped: escaped.map((frame) => frame.serial),
    batchesHeld: batches.map((batch) => batch.key),
  };
}
