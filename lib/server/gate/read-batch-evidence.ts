import "server-only";
import type pg from "pg";
import { batchEvidence, type BatchEvidence, type FrameEvidence } from "@/lib/quality/batch-evidence";
import { toldBatchDecision, type ToldBatchDecision } from "@/lib/format/batch-words";
import { decideBatch, type BatchCircumstances } from "@/lib/quality/batch-decision";
import { isState, SETTLED_STATES, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import { gatePolicyFrom } from "@/lib/quality/gate-policy";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import { caseHeadline } from "@/lib/format/case-words";
import { caseCharacteristics } from "@/lib/quality/cases/case-characteristics";
import { readSampledBatch } from "../batches/lot-evidence";
import { batchColumns } from "../db/columns/batch";
import { driftCaseColumns } from "../db/columns/drift-case";
import { frameColumns } from "../db/columns/frame";
import { notWithdrawn } from "../db/columns/inspection";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { calibrationAtInspection, notCalibrated } from "../evidence/calibrations";
import type { SampleRisk } from "@/lib/quality/sample-risk";
import { framesAskedFor } from "./frames-asked-for";
import { type PlacedFrame, replacementsDue } from "./missing-frames";
import { readSampleFindings } from "./sample-findings";
import type { SampledCapability } from "./sampled-capability";

const framesOfBatch = frameColumns("frame", [
  "id",
  "serial",
  "position",
  "mould",
  "state",
  "verdict",
  "inspections",
  "leaseDeviceId",
  "judgement",
  "measuredAt",
  "concessionUntil",
]);

/** A frame of a batch, with what matters at the gate. */
export type BatchFrame = RowOf<typeof framesOfBatch>;

const batchNow = together(
  batchColumns("b", ["id", "key", "policy", "heldAt", "releasedAt", "openedAt", "version", "lineId"]),
  orNull(measuringPlanRevisionColumns("r", { planRevisionId: "id" })),
);
type BatchRow = RowOf<typeof batchNow> & { readonly due: PlannedFrames };

export type BatchWithEvidence = BatchRow & {
  readonly frames: readonly BatchFrame[];
  readonly evidence: BatchEvidence;
  readonly decision: ToldBatchDecision;
  readonly circumstances: BatchCircumstances;
};

async function readGauges(db: pg.ClientBase | pg.Pool, plantId: string, batchId: string) {
  const { rows } = await db.query<{ gauge: string; until: string | null; serials: string[] }>(sql`
    select k.key as gauge, to_char(max(c.due) at time zone max(p.time_zone), 'YYYY-MM-DD') as until, array_agg(distinct f.serial order by f.serial) as serials
    from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    cross join lateral unnest(i.gauge_keys) as k(key)
    join plant p on p.id = i.plant_id
    join gauge g on g.plant_id = i.plant_id and g.key = k.key ${calibrationAtInspection}
    where i.plant_id = ${plantId} and i.batch_id = ${batchId} and ${notCalibrated}
      and (f.evidence_from is null or i.measured_at > f.evidence_from)
      and f.state <> all(${SETTLED_STATES}::"FrameState"[])
      and ${notWithdrawn}
    group by k.key order by k.key`);
  return rows.map(({ gauge, until, serials }) => ({
    gauge,
    why: until === null ? "had no calibration yet" : `was out of calibration since ${until}`,
    serials,
  }));
}

const openCase = driftCaseColumns("c", ["number", "found"]);

/** Cases of Drift that are open and have signals at frames of the batch, each under what it moved most. */
async function readOpenCases(db: pg.ClientBase | pg.Pool, plantId: string, batchId: string) {
  const { rows } = await db.query<RowOf<typeof openCase> & { serials: string[] }>(sql`
    select ${openCase}, array_agg(distinct f.serial order by f.serial) as serials
    from inspection i
    join alarm_signal s on s.plant_id = i.plant_id and s.inspection_id = i.id
    join drift_case c on c.plant_id = s.plant_id and c.watch_id = s.watch_id and c.state = 'open'
      and s.inspection_id::text || ' ' || s.stream = any(c.signals)
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    where i.plant_id = ${plantId} and i.batch_id = ${batchId}
    group by c.plant_id, c.id order by c.number`);
  return rows.flatMap(({ number, found, serials }) => {
    const [subject] = caseCharacteristics(found);
    if (subject === undefined) return [];
    const more = serials.length > 3 ? ` and ${serials.length - 3} more` : "";
    const text = `Case ${number} is open, ${caseHeadline(found)}; at ${serials.slice(0, 3).join(", ")}${more}.`;
    return [{ characteristic: subject.name, seat: subject.seat, text, serials }];
  });
}

function evidenceOf(frame: BatchFrame): FrameEvidence {
  return {
    serial: frame.serial,
    verdict: frame.verdict ?? "not measured",
    characteristics: frame.judgement,
    notMeasured:
      frame.state === "in_rework"
        ? "in rework, to be measured again"
        : frame.inspections === 0 || isState(frame.state, UNMEASURED_STATES)
          ? frame.leaseDeviceId === null
            ? "no readings yet"
            : `being measured on ${frame.leaseDeviceId}`
          : null,
  };
}

const placed = ({ serial, position, inspections, state }: BatchFrame): PlacedFrame => ({
  serial,
  position,
  isMeasured: inspections > 0,
  isUnmeasured: inspections === 0 && isState(state, UNMEASURED_STATES),
});

/** Frames that speak for the batch: measured ones, and those without a result that the plan still asks for. */
async function dueFrames(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batch: BatchRow,
  frames: readonly BatchFrame[],
): Promise<{ due: readonly BatchFrame[]; unmeasuredBySample: number }> {
  const open = frames.filter((frame) => !isState(frame.state, SETTLED_STATES));
  if (batch.due.kind === "all") return { due: open, unmeasuredBySample: 0 };
  const sample = await framesAskedFor(db, plantId, { ...batch, size: frames.length }, frames);
  const asked = new Set(sample.frames);
  const replacing = replacementsDue(sample.frames.map(placed), frames.map(placed));
  // Any other frame does for one that left unmeasured; the first ones are named.
  const instead = new Set(open.filter((frame) => !asked.has(frame) && placed(frame).isUnmeasured).slice(0, replacing));
  const due = open.filter(
    (frame) => frame.inspections > 0 || frame.state === "in_rework" || asked.has(frame) || instead.has(frame),
  );
  return { due, unmeasuredBySample: open.length - due.length };
}

async function readSampleRisk(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batchId: string,
  frames: readonly BatchFrame[],
): Promise<SampleRisk> {
  const unmeasured = frames.filter(({ state }) => isState(state, UNMEASURED_STATES));
  return {
    ...(await readSampleFindings(db, plantId, batchId)),
    frames: frames.length,
    measured: frames.filter(({ inspections }) => inspections > 0).length,
    unmeasured: unmeasured.filter(({ inspections }) => inspections === 0).length,
  };
}

/**
 * Reads a batch with all the evidence there is about it, and what the plant's policy makes of it. Frames that a signed
 * decision settled, or that have shipped, do not count.
 *
 * @param capability - from readSampledCapability, asked before; what the unmeasured frames of a sampled batch rest on
 */
export async function readBatchEvidence(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  batchId: string,
  capability: SampledCapability | null = null,
): Promise<BatchWithEvidence | null> {
  const { rows } = await db.query<BatchRow>(sql`
    select ${batchNow}, coalesce(s.frames, r.frames, '{"kind":"all"}') as due
    from batch b
    left join batch_sample s on s.plant_id = b.plant_id and s.batch_id = b.id
    left join lateral (select m.id, m.frames from measuring_plan_revision m where m.plant_id = b.plant_id
      and m.plan_id = b.plan_id and m.state = 'released' order by m.released_at desc limit 1) r on true
    where b.plant_id = ${plantId} and b.id = ${batchId}`);
  const batch = rows[0];
  if (!batch) return null;
  const { rows: frames } = await db.query<BatchFrame>(sql`
    select ${framesOfBatch} from frame where plant_id = ${plantId} and batch_id = ${batchId} order by position, id`);
  const { due, unmeasuredBySample } = await dueFrames(db, plantId, batch, frames);
  const sampled = await readSampledBatch(db, plantId, batch);
  const circumstances: BatchCircumstances = {
    unmeasuredBySample,
    ...(sampled === null || sampled.plan.scheme.kind === "all" ? {} : { lot: sampled.judgement }),
    ...(batch.due.kind === "all" ? {} : { sample: await readSampleRisk(db, plantId, batchId, frames) }),
    // A plan that was released since it was asked asks for other characteristics.
    ...(capability === null || capability.planRevisionId !== batch.planRevisionId
      ? {}
      : { capability: capability.findings }),
    gauges: await readGauges(db, plantId, batchId),
    signals: await readOpenCases(db, plantId, batchId),
    onDevice: frames.flatMap((frame) =>
      frame.leaseDeviceId === null ? [] : [{ serial: frame.serial, device: frame.leaseDeviceId }],
    ),
  };
  const evidence = batchEvidence(batch.key, due.map(evidenceOf));
  const decision = toldBatchDecision(decideBatch(evidence, gatePolicyFrom(batch.policy), circumstances));
  return { ...batch, frames, evidence, decision, circumstances };
}

/** What was against a batch that has left, by what its frames were found to be, whatever became of them. */
export function evidenceOfLeft({ key, policy, frames }: Pick<BatchWithEvidence, "key" | "policy" | "frames">): {
  readonly verdicts: BatchEvidence["verdicts"];
  readonly decision: ToldBatchDecision;
} {
  // Nobody waits for the readings of a frame that has left.
  const measured = frames.map((frame) => ({ ...evidenceOf(frame), notMeasured: null }));
  const evidence = batchEvidence(key, measured);
  return { verdicts: evidence.verdicts, decision: toldBatchDecision(decideBatch(evidence, gatePolicyFrom(policy))) };
}
