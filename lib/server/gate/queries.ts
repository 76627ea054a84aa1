import "server-only";
import type { Seat } from "@/lib/core/metrology/reading-name";
import {
  CHARACTERISTIC_UNIT,
  type CharacteristicName,
  type CharacteristicUnit,
  type DecisionRule,
} from "@/lib/core/metrology/shell-drawing";
import { FEATURE_NAMES, FEATURES, type FeatureName } from "@/lib/core/metrology/features";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import { AppError } from "@/lib/errors";
import type { ToldCause } from "@/lib/format/cause-words";
import { GONE_STATES, isState, UNMEASURED_STATES } from "@/lib/quality/frame-state";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { drawingColumns } from "../db/columns/drawing";
import { frameColumns } from "../db/columns/frame";
import { frameModelColumns } from "../db/columns/frame-model";
import { lineColumns } from "../db/columns/line";
import { measuringPlanColumns } from "../db/columns/measuring-plan";
import { measuringPlanRevisionColumns } from "../db/columns/measuring-plan-revision";
import { supplierColumns } from "../db/columns/supplier";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { framesAskedFor } from "./frames-asked-for";
import { missingCount, type PlacedFrame } from "./missing-frames";
import { type BatchPicture, type DecidedCause, readDecisionEvidence } from "./decision-evidence";
import { evidenceOfLeft, readBatchEvidence, type BatchFrame, type BatchWithEvidence } from "./read-batch-evidence";
import { readCause } from "./read-cause-facts";
import { readSampleFindings } from "./sample-findings";
import { capabilityAgainst, readSampledCapability, type StreamsRead } from "./sampled-capability";

/**
 * What a batch is to the gate: open while frames that it asks for are not measured, or while those that nobody measures wait for the
 * capability of their streams; held, clear to ship, or gone.
 */
export type BatchGateState = "open" | "held" | "clear" | "gone";

export type BatchListItem = {
  readonly id: string;
  readonly key: string;
  readonly supplier: string;
  readonly model: string;
  readonly line: string;
  readonly openedAt: string;
  readonly heldAt: string | null;
  readonly state: BatchGateState;
  readonly frames: number;
  readonly counts: {
    readonly conforms: number;
    readonly notConforming: number;
    readonly notProven: number;
    readonly notMeasured: number;
    readonly unmeasured: number;
    readonly shipped: number;
  };
  /** The characteristic and verdict that most frames of the batch show, in words; null where none is bad. */
  readonly firstReason: string | null;
};

const listedBatch = together(
  batchColumns("b", ["id", "key", "openedAt", "heldAt", "policy"]),
  supplierColumns("s", { supplier: "name" }),
  frameModelColumns("m", { model: "name" }),
  lineColumns("l", { line: "key" }),
  orNull(measuringPlanRevisionColumns("r", { planRevisionId: "id" })),
);

type ListRow = RowOf<typeof listedBatch> & {
  frames: number;
  conforms: number;
  notConforming: number;
  notProven: number;
  notMeasured: number;
  unmeasured: number;
  shipped: number;
  gone: number;
  due: PlannedFrames;
  firstReason: string | null;
  /** Of a batch that is judged by a sample: its frames without a result, or all of them where one left without. */
  left: PlacedFrame[] | null;
};

/** @param row - missing: frames that the plan asks for and that have no result yet */
function gateState(row: {
  readonly heldAt: Date | null;
  readonly frames: number;
  readonly gone: number;
  readonly missing: number;
  /** Frames that nobody measured wait for the capability of their streams. */
  readonly waits: boolean;
}): BatchGateState {
  if (row.gone === row.frames) return "gone";
  if (row.heldAt !== null) return "held";
  return row.missing > 0 || row.waits ? "open" : "clear";
}

const waitsForCapability = ({ decision }: BatchWithEvidence): boolean =>
  decision.reasons.some(({ code }) => code === "capability-bound" || code === "capability-unknown");

/** Why the unmeasured frames of a sampled batch wait, by what is known without computing; [] where they do not. */
async function waitingFor(
  plantId: string,
  { id, due, unmeasured, planRevisionId, policy }: ListRow,
  read: StreamsRead,
): Promise<readonly string[]> {
  if (due.kind === "all" || unmeasured === 0) return [];
  const against = capabilityAgainst(await readSampledCapability(plantId, id, 0, read), { policy, planRevisionId });
  if (against.length === 0) return [];
  return (await readSampleFindings(getPool(), plantId, id)).isAccepted ? [] : against;
}

/** The first reason of several, with how many more there are. */
function firstOf(reasons: readonly string[]): string | null {
  const [first, ...more] = reasons;
  if (first === undefined) return null;
  return `unmeasured frames wait: ${first}${more.length === 0 ? "" : `, and ${more.length} more`}`;
}

async function missingOf(plantId: string, { key, due, left, unmeasured, frames }: ListRow): Promise<number> {
  if (due.kind === "all" || left === null) return unmeasured;
  const asked = await framesAskedFor(getPool(), plantId, { key, due, size: frames }, left);
  return missingCount(asked.frames, left);
}

export type BatchFilter = {
  readonly state?: BatchGateState | undefined;
  readonly line?: string | undefined;
  readonly limit?: number | undefined;
};

/** Batches in the plant, and of those that left, that a list holds at most: held ones and the newest. */
const MOST_HERE = 500;
const MOST_GONE = 100;

/**
 * Batches: those in the plant, held ones first, then the newest; after them the newest of those that left. Frames are counted
 * as they change (batch_tally), not at each look.
 */
export async function listBatches(viewer: Viewer, filter: BatchFilter = {}): Promise<readonly BatchListItem[]> {
  assertMay(viewer, "gate.view");
  const line = filter.line ?? null;
  const { rows } = await getPool().query<ListRow>(sql`
    with chosen as (
      (select b.plant_id, b.id from batch b join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
        where b.plant_id = ${viewer.plantId} and t.gone < t.frames
          and (${line}::text is null or b.line_id = (select l.id from line l where l.plant_id = b.plant_id and l.key = ${line}))
        order by b.held_at is null, b.opened_at desc, b.id limit ${filter.limit ?? MOST_HERE})
      union all
      (select b.plant_id, b.id from batch b join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
        where b.plant_id = ${viewer.plantId} and t.gone >= t.frames
          and (${line}::text is null or b.line_id = (select l.id from line l where l.plant_id = b.plant_id and l.key = ${line}))
        order by b.opened_at desc, b.id limit ${filter.limit ?? MOST_GONE}))
    select ${listedBatch},
      t.frames, t.conforms, t.not_conforming as "notConforming", t.not_proven as "notProven", t.not_measured as "notMeasured",
      t.unmeasured, t.shipped, t.gone,
      coalesce(bs.frames, r.frames, '{"kind":"all"}') as due,
      case when coalesce(bs.frames, r.frames) ->> 'kind' <> 'all' and t.unmeasured > 0 then
        (select json_agg(json_build_object('serial', f.serial, 'position', f.position, 'isMeasured', f.inspections > 0,
            'isUnmeasured', f.inspections = 0 and f.state = any(${UNMEASURED_STATES}::"FrameState"[]))) from frame f
          where f.plant_id = b.plant_id and f.batch_id = b.id and (f.inspections = 0 or t.frames > t.unmeasured + (
            select count(*) from frame g where g.plant_id = b.plant_id and g.batch_id = b.id and g.inspections > 0)))
      end as left,
      case when t.held > 0 then
        (select concat(case when j ->> 'seat' is null then '' else upper(j ->> 'seat') || ' ' end, j ->> 'name', ' ', j ->> 'verdict', ', ',
            count(*), case when count(*) = 1 then ' frame' else ' frames' end)
          from frame g cross join lateral jsonb_array_elements(g.judgement) as j
          where g.plant_id = b.plant_id and g.batch_id = b.id and g.state = 'held'
          group by j ->> 'seat', j ->> 'name', j ->> 'verdict'
          order by (j ->> 'verdict' = 'does not conform') desc, count(*) desc, 1 limit 1)
      end as "firstReason"
    from chosen c
    join batch b on b.plant_id = c.plant_id and b.id = c.id
    join batch_tally t on t.plant_id = b.plant_id and t.batch_id = b.id
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    left join batch_sample bs on bs.plant_id = b.plant_id and bs.batch_id = b.id
    left join lateral (select p.id, p.frames from measuring_plan_revision p where p.plant_id = b.plant_id
      and p.plan_id = b.plan_id and p.state = 'released' order by p.released_at desc limit 1) r on true
    order by t.gone >= t.frames, b.held_at is null, b.opened_at desc, b.id`);
  const read: StreamsRead = new Map();
  const items = await Promise.all(
    rows.map(async (row): Promise<BatchListItem> => {
      const { conforms, notConforming, notProven, notMeasured, unmeasured, shipped, ...rest } = row;
      const { gone, due: _due, left: _left, policy: _policy, planRevisionId: _plan, openedAt, heldAt, ...item } = rest;
      const missing = await missingOf(viewer.plantId, row);
      const waiting = gone === row.frames || missing > 0 ? [] : await waitingFor(viewer.plantId, row, read);
      return {
        ...item,
        openedAt: openedAt.toISOString(),
        heldAt: heldAt?.toISOString() ?? null,
        state: gateState({ heldAt, frames: row.frames, gone, missing, waits: waiting.length > 0 }),
        firstReason: item.firstReason ?? firstOf(waiting),
        counts: { conforms, notConforming, notProven, notMeasured, unmeasured, shipped },
      };
    }),
  );
  return items
    .filter((row) => filter.state === undefined || row.state === filter.state)
    .sort((a, b) => Number(b.state === "held") - Number(a.state === "held"));
}

/** How many batches are in the plant and have left it, of one line or of all. */
export async function countBatches(
  viewer: Viewer,
  filter: Pick<BatchFilter, "line"> = {},
): Promise<{ readonly here: number; readonly gone: number }> {
  assertMay(viewer, "gate.view");
  const line = filter.line ?? null;
  const { rows } = await getPool().query<{ here: number; gone: number }>(sql`
    select count(*) filter (where t.gone < t.frames)::int as here, count(*) filter (where t.gone >= t.frames)::int as gone
    from batch_tally t where t.plant_id = ${viewer.plantId} and (${line}::text is null or exists (
      select 1 from batch b join line l on l.plant_id = b.plant_id and l.id = b.line_id
      where b.plant_id = t.plant_id and b.id = t.batch_id and l.key = ${line}))`);
  return rows[0] ?? { here: 0, gone: 0 };
}

export type BatchDecisionRecord = {
  readonly id: string;
  readonly kind: string;
  readonly serials: readonly string[];
  readonly grounds: string;
  readonly person: string;
  readonly at: string;
  readonly expiresAt: string | null;
  readonly cause: DecidedCause | null;
  /** What the signer saw of the batch; null for decisions of before, and where another one of the same act keeps it. */
  readonly picture: BatchPicture | null;
};

export type BatchFrameItem = Pick<
  BatchFrame,
  "id" | "serial" | "position" | "mould" | "state" | "verdict" | "inspections" | "leaseDeviceId"
> & {
  readonly reasons: BatchFrame["judgement"];
  /** Value of the batch's foremost bad characteristic, also where it conforms; null without one. */
  readonly shown: number | null;
};

export type BatchPage = {
  readonly id: string;
  readonly key: string;
  readonly supplier: string;
  readonly supplierKey: string;
  readonly model: string;
  readonly modelKey: string;
  readonly line: string;
  readonly drawing: string;
  readonly drawingTitle: string;
  readonly plan: string;
  /** That of the drawing in the newest released revision of the plan; null where none is released. */
  readonly decisionRule: DecisionRule | null;
  readonly version: number;
  readonly state: BatchGateState;
  readonly openedAt: string;
  readonly heldAt: string | null;
  readonly releasedAt: string | null;
  readonly decision: BatchWithEvidence["decision"];
  readonly verdicts: BatchWithEvidence["evidence"]["verdicts"];
  readonly frames: readonly BatchFrameItem[];
  /** What `shown` of the frames is a value of. */
  readonly shownOf: {
    readonly characteristic: CharacteristicName;
    readonly seat: Seat | null;
    readonly unit: CharacteristicUnit;
  } | null;
  readonly decisions: readonly BatchDecisionRecord[];
  /** Whose cause the evidence speaks for. */
  readonly cause: ToldCause;
  /** Of a batch that has left: what was against it when it was first decided on, or by what its frames were found to be. */
  readonly was: (Omit<BatchPicture, "verdicts"> & { readonly at: string | null }) | null;
  readonly asOf: string;
};

const headColumns = together(
  batchColumns("b", ["id"]),
  supplierColumns("s", { supplier: "name", supplierKey: "key" }),
  frameModelColumns("m", { model: "name", modelKey: "key" }),
  lineColumns("l", { line: "key" }),
  drawingColumns("d", { drawing: "key", drawingTitle: "title" }),
  measuringPlanColumns("p", { plan: "title" }),
);
type HeadRow = RowOf<typeof headColumns> & { readonly decisionRule: DecisionRule | null };

async function findHead(plantId: string, idOrKey: string): Promise<HeadRow | null> {
  const { rows } = await getPool().query<HeadRow>(sql`
    select ${headColumns},
      (select r.content ->> 'decisionRule' from measuring_plan_revision v
        join drawing_revision r on r.plant_id = v.plant_id and r.id = v.drawing_revision_id
        where v.plant_id = b.plant_id and v.plan_id = b.plan_id and v.state = 'released'
        order by v.released_at desc, v.id desc limit 1) as "decisionRule"
    from batch b
    join supplier s on s.plant_id = b.plant_id and s.id = b.supplier_id
    join frame_model m on m.plant_id = b.plant_id and m.id = b.model_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join measuring_plan p on p.plant_id = b.plant_id and p.id = b.plan_id
    join drawing d on d.plant_id = b.plant_id and d.id = p.drawing_id
    where b.plant_id = ${plantId} and (b.id::text = ${idOrKey} or b.key = ${idOrKey})`);
  return rows[0] ?? null;
}

const decided = decisionColumns("d", ["id", "kind", "grounds", "at", "expiresAt", "evidence"]);

async function readDecisions(plantId: string, batchId: string): Promise<BatchDecisionRecord[]> {
  const { rows } = await getPool().query<RowOf<typeof decided> & { person: string; serials: string[] }>(sql`
    select ${decided}, ${nameThen("p", "d.at")} as person,
      coalesce((select array_agg(f.serial order by f.serial) from frame f where f.plant_id = d.plant_id and f.id = any(d.frame_ids)), '{}') as serials
    from decision d join person p on p.plant_id = d.plant_id and p.id = d.person_id
    where d.plant_id = ${plantId} and d.batch_id = ${batchId} order by d.at desc, d.id`);
  return rows.map(({ evidence, ...row }) => ({
    ...row,
    ...readDecisionEvidence(evidence),
    at: row.at.toISOString(),
    expiresAt: row.expiresAt?.toISOString() ?? null,
  }));
}

/** What was against a batch that has left: as it was first decided on, else by what its frames were found to be. */
function pastOf(
  left: ReturnType<typeof evidenceOfLeft>,
  decisions: readonly BatchDecisionRecord[],
): NonNullable<BatchPage["was"]> {
  const first = decisions.findLast(({ picture }) => picture !== null && picture.reasons.length > 0);
  if (first?.picture) return { reasons: first.picture.reasons, notes: first.picture.notes, at: first.at };
  return { reasons: left.decision.reasons, notes: left.decision.notes, at: null };
}

/** The feature by which a characteristic of form or position shows as one number. */
function featureOf(characteristic: CharacteristicName, seat: Seat | null): FeatureName | null {
  const statistic = characteristic === "bore" || characteristic === "width" ? "mean" : "value";
  const found = FEATURES.find(
    (one) =>
      one.characteristic === characteristic &&
      one.statistic === statistic &&
      (one.seat === seat || characteristic === "coaxiality"),
  );
  return found?.name ?? null;
}

const shownFrame = frameColumns("f", ["id"]);

async function readShown(plantId: string, batchId: string, feature: FeatureName): Promise<Map<string, number | null>> {
  const { rows } = await getPool().query<RowOf<typeof shownFrame> & { value: number | null }>(sql`
    select ${shownFrame}, i.features[${FEATURE_NAMES.indexOf(feature) + 1}::int] as value from frame f
    join inspection i on i.plant_id = f.plant_id and i.id = f.last_inspection_id
    where f.plant_id = ${plantId} and f.batch_id = ${batchId}`);
  return new Map(rows.map((row) => [row.id, row.value]));
}

async function readEvidence(plantId: string, batchId: string): Promise<BatchWithEvidence | null> {
  return readBatchEvidence(getPool(), plantId, batchId, await readSampledCapability(plantId, batchId));
}

/**
 * One batch with its evidence, its reasons and its decisions.
 *
 * @param idOrKey - the batch's identifier or its key
 * @throws AppError not-found
 */
export async function getBatch(viewer: Viewer, idOrKey: string, now: Date = new Date()): Promise<BatchPage> {
  assertMay(viewer, "gate.view");
  const { plantId } = viewer;
  const head = await findHead(plantId, idOrKey);
  const batch = head === null ? null : await readEvidence(plantId, head.id);
  if (head === null || batch === null)
    throw new AppError(
      "not-found",
      `There is no batch "${idOrKey}". Look it up under Gate, or scan one of its frames.`,
    );
  const gone = batch.frames.filter((frame) => isState(frame.state, GONE_STATES)).length;
  const missing = batch.evidence.notMeasured.length;
  const decisions = await readDecisions(plantId, batch.id);
  const left = gone === batch.frames.length ? evidenceOfLeft(batch) : null;
  const was = left === null ? null : pastOf(left, decisions);
  const foremost = (was ?? batch.decision).reasons.find((reason) => reason.characteristic !== null);
  const characteristic = foremost?.characteristic ?? null;
  const feature = characteristic === null ? null : featureOf(characteristic, foremost?.seat ?? null);
  const shown = feature === null ? new Map<string, number | null>() : await readShown(plantId, batch.id, feature);
  return {
    ...head,
    key: batch.key,
    version: batch.version,
    state: gateState({
      heldAt: batch.heldAt,
      frames: batch.frames.length,
      gone,
      missing,
      waits: waitsForCapability(batch),
    }),
    openedAt: batch.openedAt.toISOString(),
    heldAt: batch.heldAt?.toISOString() ?? null,
    releasedAt: batch.releasedAt?.toISOString() ?? null,
    decision: batch.decision,
    verdicts: (left ?? batch.evidence).verdicts,
    frames: batch.frames.map(
      ({ id, serial, position, mould, state, verdict, inspections, leaseDeviceId, judgement }) => ({
        id,
        serial,
        position,
        mould,
        state,
        verdict,
        inspections,
        leaseDeviceId,
        reasons: judgement,
        shown: shown.get(id) ?? null,
      }),
    ),
    shownOf:
      characteristic === null || feature === null
        ? null
        : { characteristic, seat: foremost?.seat ?? null, unit: CHARACTERISTIC_UNIT[characteristic] },
    decisions,
    cause: await readCause(getPool(), viewer, batch),
    was,
    asOf: now.toISOString(),
  };
}

export type BatchEnquiry = {
  readonly id: string;
  readonly batch: string;
  readonly state: BatchGateState;
  readonly answer: "go" | "stop";
  readonly reasons: BatchWithEvidence["decision"]["reasons"];
  readonly notes: BatchWithEvidence["decision"]["notes"];
  readonly counts: BatchWithEvidence["evidence"]["verdicts"];
  readonly frames: number;
  readonly at: string;
};

/** May this batch ship? For programs; changes nothing. */
export async function enquireBatch(viewer: Viewer, idOrKey: string, now: Date = new Date()): Promise<BatchEnquiry> {
  assertMay(viewer, "gate.enquire");
  const head = await findHead(viewer.plantId, idOrKey);
  const batch = head === null ? null : await readEvidence(viewer.plantId, head.id);
  if (batch === null) throw new AppError("not-found", `There is no batch "${idOrKey}".`);
  const gone = batch.frames.filter((frame) => isState(frame.state, GONE_STATES)).length;
  const state = gateState({
    heldAt: batch.heldAt,
    frames: batch.frames.length,
    gone,
    missing: batch.evidence.notMeasured.length,
    waits: waitsForCapability(batch),
  });
  return {
    id: batch.id,
    batch: batch.key,
    state,
    answer: state === "clear" && batch.decision.decision === "ship" ? "go" : "stop",
    reasons: batch.decision.reasons,
    notes: batch.decision.notes,
    counts: batch.evidence.verdicts,
    frames: batch.frames.length,
    at: now.toISOString(),
  };
}
