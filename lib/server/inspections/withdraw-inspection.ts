import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import { FRAME_ACTS, stateByWhatIsLeft, type FrameState } from "@/lib/quality/frame-state";
import { toldCharacteristics } from "@/lib/format/judging-words";
import { judgeOperations, type FrameEvidenceNow } from "@/lib/quality/judge-operations";
import { CORE_VERSION } from "@/lib/core/version";
import { uuidV7 } from "@/lib/schemas/identifier";
import { assertKeptApart } from "../auth/kept-apart";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type PersonViewer, type Viewer } from "../auth/viewer";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { lineColumns } from "../db/columns/line";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { holdBatches } from "../evidence/hold-batches";
import { writeEvents } from "../outbox/write-events";
import { isMeasuredOverdue } from "../evidence/judge-again";
import { appendToLockedChain, lockChain, type ChainHead } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { rowHash } from "../journal/vouched-rows";
import { devicesOf } from "../auth/device-tie";
import { growGroup } from "../drift/grow-streams";
import { askedOf } from "../evidence/batch-plan";
import { followLine } from "../evidence/case-work";
import { readEarlier } from "../evidence/earlier-inspections";
import type { EarlierInspection } from "../evidence/earlier-inspections";
import { getReferenceData, withGaugesAsNow, type ReferenceData } from "../evidence/reference-data";
import { type SignedSide, withSides } from "../evidence/stored-evidence";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.withdrawInspection;

/** Of an inspection, its frame, the plan of the frame's batch, and the line where it was measured. */
const withdrawnColumns = together(
  inspectionColumns("i", ["frameId", "lineId", "operationId", "drawingId", "measuredAt", "ordinal", "features"]),
  frameColumns("f", ["serial", "state", "batchId", "leaseDeviceId", "shippedAt", "evidenceFrom"]),
  batchColumns("b", ["planId"]),
  lineColumns("l", { lineKey: "key" }),
);

export type Withdrawn = RowOf<typeof withdrawnColumns>;

export async function findInspection(
  db: pg.ClientBase | pg.Pool,
  plantId: string,
  id: string,
): Promise<Withdrawn | null> {
  const { rows } = await db.query<Withdrawn>(sql`
    select ${withdrawnColumns}
    from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join line l on l.plant_id = i.plant_id and l.id = i.line_id
    where i.plant_id = ${plantId} and i.id = ${id}
      and ${notWithdrawn}`);
  return rows[0] ?? null;
}

async function holdItsBatch(db: pg.ClientBase, plantId: string, found: Withdrawn, now: Date): Promise<void> {
  const held = found.state === "held" ? [] : await holdBatches(db, plantId, [found.batchId], now);
  const events = held.map(({ id }) => ({ topic: "batch.held" as const, payload: { id } }));
  return writeEvents(db, plantId, events, now);
}

/** What a shipped frame went on is no more: somebody has to look after it. */
async function openEscape(
  db: pg.ClientBase,
  plantId: string,
  found: Withdrawn,
  reason: string,
  now: Date,
): Promise<void> {
  await db.query(sql`
    insert into escape (plant_id, id, frame_id, inspection_id, reason, opened_at)
    values (${plantId}, ${uuidV7(now.getTime())}, ${found.frameId}, null, ${reason}, ${now})`);
  return writeEvents(db, plantId, [{ topic: "escape.opened", payload: { serial: found.serial } }], now);
}

const GONE = "There is no such inspection, or it was withdrawn before. Nothing was changed.";

/** Finds an inspection that is not withdrawn and locks its line and its frame: what is read of them then stays so. */
async function lockInspection(db: pg.ClientBase, plantId: string, id: string) {
  const before = await findInspection(db, plantId, id);
  if (!before) throw new AppError("not-found", GONE);
  const head = await lockChain(db, plantId, `line:${before.lineKey}`);
  await db.query(sql`select 1 from frame where plant_id = ${plantId} and id = ${before.frameId} for update`);
  const found = await findInspection(db, plantId, id);
  if (!found) throw new AppError("not-found", GONE);
  return { found, head };
}

/** An inspection that is locked, with the head of its line's chain. */
export type LockedInspection = { readonly id: string; readonly found: Withdrawn; readonly head: ChainHead };

type JudgingAgain = {
  /** What changed what counts. */
  readonly act: "withdraw" | "resolve";
  readonly remembered: ReferenceData;
  readonly now: Date;
  /** What a decision of this transaction says, which is written after it. */
  readonly signed?: readonly SignedSide[];
};
type JudgedAgain = {
  readonly frameState: FrameState;
  readonly evidence: FrameEvidenceNow<EarlierInspection> | null;
};

/**
 * Judges a frame by the inspections that count now, and lets follow what follows: its state, its batch held where the
 * evidence is against it, an escape opened where it has shipped and the evidence is against it or not complete any more.
 *
 * @param found - one of its inspections, locked with its frame
 */
export async function judgeFrameAgain(
  db: pg.ClientBase,
  plantId: string,
  found: Withdrawn,
  { act, remembered, now, signed = [] }: JudgingAgain,
): Promise<JudgedAgain> {
  const { frameId, evidenceFrom, planId } = found;
  const reference = await withGaugesAsNow(db, plantId, remembered);
  const left = (await readEarlier(db, plantId, [{ id: frameId }], reference)).get(frameId) ?? [];
  const valid = left.filter((one) => evidenceFrom === null || one.measuredAt > evidenceFrom);
  const evidence = judgeOperations(
    valid.map((one) => withSides(one, signed)),
    askedOf(planId, reference),
  );
  const isOverdue = (await isMeasuredOverdue(db, plantId, [frameId])).has(frameId);
  const holds = evidence !== null && (evidence.holds || isOverdue);
  const frameState = stateByWhatIsLeft(act, found.state, {
    isMeasured: evidence !== null,
    holds,
    isLeased: found.leaseDeviceId !== null,
  });
  await db.query(sql`
    update frame set state = ${frameState}::"FrameState", verdict = ${evidence?.verdict ?? null},
      judgement = ${canonicalJson(toldCharacteristics(evidence?.reasons ?? []))}::jsonb, judged_by = ${CORE_VERSION}, inspections = ${left.length}, version = version + 1
    where plant_id = ${plantId} and id = ${frameId}`);
  const isMeasured = evidence !== null && evidence.verdict !== "not measured";
  if (frameState === "held" && holds) await holdItsBatch(db, plantId, found, now);
  if (frameState === "shipped" && (holds || !isMeasured)) {
    const shippedAt = formatMoment(found.shippedAt ?? now, { zone: reference.zone });
    const reason = isMeasured ? words.shippedWhatCountsOfInspections(shippedAt) : words.shippedNotMeasured(shippedAt);
    await openEscape(db, plantId, found, reason, now);
  }
  return { frameState, evidence };
}

/**
 * Takes inspections of one frame out of the verdict, the count and the charts: one record each with the reason, the frame judged
 * by what is left, with what follows from that, an entry in the chain of each line.
 *
 * @param taken - locked, of one frame, at least one; the heads of one line's chain are the same
 */
export async function takeOut(
  db: pg.ClientBase,
  viewer: PersonViewer,
  taken: readonly LockedInspection[],
  reason: string,
  { act, remembered, now, signed = [] }: JudgingAgain,
): Promise<JudgedAgain> {
  const [first] = taken;
  if (!first) throw new Error("takeOut: an inspection must be given");
  const { plantId, personId } = viewer;
  const rowOf = (id: string) => ({ plant_id: plantId, inspection_id: id, person_id: personId, reason, at: now });
  for (const { id } of taken)
    await db.query(sql`
      insert into inspection_withdrawal (plant_id, inspection_id, person_id, reason, at)
      values (${plantId}, ${id}, ${personId}, ${reason}, ${now})`);
  const judged = await judgeFrameAgain(db, plantId, first.found, { act, remembered, now, signed });
  const heads = new Map<string, ChainHead>();
  for (const { id, found, head } of taken) {
    const { lineId, lineKey, operationId, drawingId, measuredAt } = found;
    const withdrawn = found.ordinal === 1 ? [found.features] : [];
    const change = { from: measuredAt, to: measuredAt, withdrawn };
    await growGroup(db, plantId, { lineId, operationId, drawingId }, change, now);
    await followLine(db, plantId, lineId);
    const next = await appendToLockedChain(db, heads.get(lineKey) ?? head, {
      plantId,
      chain: `line:${lineKey}`,
      at: now,
      actor: actorOf(viewer),
      action: "inspection.withdrawn",
      subjects: [{ table: "inspection_withdrawal", id, hash: rowHash("inspection_withdrawal", rowOf(id)) }],
      payload: { serial: found.serial, reason },
    });
    heads.set(lineKey, next);
  }
  return judged;
}

/**
 * Withdraws an inspection: the row stays, a new record with the reason takes it out of the verdict, the count and the charts.
 * Nobody withdraws an inspection that they had a hand in.
 *
 * @throws AppError forbidden, not-found, refused
 */
export async function withdrawInspection(
  viewer: Viewer,
  request: { readonly id: string; readonly reason: string; readonly deviceId?: string | undefined },
  now: Date = new Date(),
): Promise<{ readonly serial: string; readonly frameState: FrameState }> {
  assertMay(viewer, FRAME_ACTS.withdraw.may);
  assertPerson(viewer);
  const { plantId } = viewer;
  const remembered = await getReferenceData(plantId);
  const deviceIds = [...(await devicesOf(viewer)), ...(request.deviceId === undefined ? [] : [request.deviceId])];
  return inSqlTransaction(async (db) => {
    const { found, head } = await lockInspection(db, plantId, request.id);
    await assertKeptApart(db, viewer, [request.id], { act: "withdraw it", deviceIds });
    const { frameState } = await takeOut(db, viewer, [{ found, head, id: request.id }], request.reason, {
      act: "withdraw",
      remembered,
      now,
    });
    return { serial: found.serial, frameState };
  });
}
