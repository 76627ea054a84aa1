import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { FRAME_ACTS, mayMove, STATE_AFTER_DECISION } from "@/lib/quality/frame-state";
import type { ToldCause } from "@/lib/format/cause-words";
import type { DecidedGroup, DecideFrames, DecideGroups, Disposition, ReleaseBatch } from "@/lib/schemas/decision";
import { assertKeptApart } from "../auth/kept-apart";
import { plantDayEnd } from "@/lib/schemas/plant-day";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import { actorOf, type PersonViewer, type Viewer } from "../auth/viewer";
import { batchColumns } from "../db/columns/batch";
import { decisionColumns } from "../db/columns/decision";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { lockFrames } from "../inspections/recording-reads";
import { appendJournal } from "../journal/append-journal";
import { canonicalJson, contentHash } from "../journal/canonical-json";
import { rowHash } from "../journal/vouched-rows";
import { type BatchWithEvidence, readBatchEvidence } from "./read-batch-evidence";
import { readCause } from "./read-cause-facts";
import { readSampledCapability } from "./sampled-capability";

/** After these the frame is another one: what was measured before says nothing about it. */
const CHANGES_FRAME: ReadonlySet<Disposition> = new Set(["rework", "repair"]);
/** These let a frame go on as it is: whoever measured it does not sign them. */
const LETS_PASS: ReadonlySet<Disposition> = new Set(["release", "concession", "regrade"]);
const UNCHANGED = "Nothing was changed.";

type DecisionDraft = {
  readonly id: string;
  readonly kind: Disposition | "first_off_release" | "resolve_disagreement" | "accept_sample_risk" | "close_escapes";
  /** Null where it is of frames of several batches. */
  readonly batchId: string | null;
  readonly frameIds: readonly string[];
  readonly grounds: string;
  readonly evidence: unknown;
  readonly expiresAt: Date | null;
};

/** Writes a signed decision and its journal entry. */
export async function recordDecision(
  db: pg.ClientBase,
  signer: PersonViewer,
  draft: DecisionDraft,
  action: string,
  payload: Readonly<Record<string, unknown>>,
  now: Date,
): Promise<void> {
  const { plantId, personId } = signer;
  const row = {
    plant_id: plantId,
    id: draft.id,
    kind: draft.kind,
    batch_id: draft.batchId,
    frame_ids: draft.frameIds,
    grounds: draft.grounds,
    evidence: draft.evidence,
    person_id: personId,
    at: now,
    expires_at: draft.expiresAt,
    content_hash: contentHash([draft, personId]),
  };
  await db.query(sql`
    insert into decision (plant_id, id, kind, batch_id, frame_ids, grounds, evidence, person_id, at, expires_at, content_hash)
    values (${plantId}, ${row.id}, ${row.kind}::"DecisionKind", ${row.batch_id}, ${row.frame_ids}::uuid[], ${row.grounds},
      ${canonicalJson(row.evidence)}::jsonb, ${personId}, ${now}, ${row.expires_at}, ${row.content_hash})`);
  await appendJournal(db, {
    plantId,
    chain: "gate",
    at: now,
    actor: actorOf(signer),
    action,
    subjects: [{ table: "decision", id: row.id, hash: rowHash("decision", row) }],
    // The name as it stood then, whatever becomes of the person's row.
    payload: { ...payload, signedBy: signer.name },
  });
}

const repeatable = decisionColumns("d", ["kind", "batchId", "grounds", "expiresAt"]);
const locked = batchColumns("batch", ["key", "version"]);
const judging = inspectionColumns("i", ["id"]);

type Repeatable = Pick<DecisionDraft, "id" | "kind" | "batchId" | "grounds"> & {
  readonly serials: readonly string[];
  readonly expiresAt?: Date | null;
  /** What else the signer said, as the evidence of the decision holds it. */
  readonly said?: Readonly<Record<string, unknown>>;
};

/**
 * Whether the same decision is here already.
 * @throws AppError already-recorded-differently when the key was used for another decision
 */
export async function isRepeated(db: pg.ClientBase, plantId: string, asked: Repeatable): Promise<boolean> {
  const { kind, batchId, grounds, expiresAt = null, said = {} } = asked;
  const { rows } = await db.query<RowOf<typeof repeatable> & { serials: string[]; saidSame: boolean }>(sql`
    select ${repeatable}, d.evidence @> ${canonicalJson(said)}::jsonb as "saidSame",
      array(select f.serial from frame f where f.plant_id = d.plant_id and f.id = any(d.frame_ids) order by f.serial) as serials
    from decision d where d.plant_id = ${plantId} and d.id = ${asked.id}`);
  const before = rows[0];
  if (!before) return false;
  const serials = new Set(asked.serials);
  const isSame =
    before.kind === kind &&
    before.batchId === batchId &&
    before.grounds === grounds &&
    before.expiresAt?.getTime() === expiresAt?.getTime() &&
    before.saidSame &&
    before.serials.length === serials.size &&
    before.serials.every((serial) => serials.has(serial));
  if (isSame) return true;
  throw new AppError(
    "already-recorded-differently",
    `A decision with the key ${asked.id} was recorded before with other content. ${UNCHANGED} Look again and decide again.`,
  );
}

/** Locks a batch and refuses a decision that was made on an older picture of it. */
export async function lockBatch(db: pg.ClientBase, plantId: string, batchId: string, version: number): Promise<string> {
  const { rows } = await db.query<RowOf<typeof locked>>(sql`
    select ${locked} from batch where plant_id = ${plantId} and id = ${batchId} for update`);
  const batch = rows[0];
  if (!batch) throw new AppError("not-found", `This batch is not known. ${UNCHANGED}`);
  if (batch.version !== version)
    throw new AppError(
      "conflict",
      `Batch ${batch.key} changed since you opened this page. ${UNCHANGED} Look again and decide then.`,
    );
  return batch.key;
}

/** A year and a day, so that the same day of the next year can be chosen (common practice, no source). */
const LONGEST_CONCESSION_DAYS = 366;
const LONGEST_CONCESSION_MS = (LONGEST_CONCESSION_DAYS + 1) * 86_400_000;

/** When a concession ends: with the last moment of its last day by the plant's clock. */
async function assertDisposition(viewer: Viewer, input: DecidedGroup, now: Date): Promise<Date | null> {
  const { disposition, lastDay, expiresAt: moment } = input;
  const path = lastDay === undefined ? "expiresAt" : "lastDay";
  if (disposition !== "concession") {
    if (moment !== undefined || lastDay !== undefined)
      throw new AppError("invalid-input", `Only a concession has an end. ${UNCHANGED}`, {
        fields: [{ path, message: "belongs to a concession only" }],
      });
    return null;
  }
  const ends = lastDay === undefined ? (moment ?? null) : plantDayEnd(lastDay, viewer.plantZone);
  if (ends === null || !(new Date(ends) > now))
    throw new AppError("invalid-input", `A concession needs an expiry date that lies ahead. ${UNCHANGED}`, {
      fields: [{ path, message: "must be given and lie ahead" }],
    });
  if (new Date(ends).getTime() > now.getTime() + LONGEST_CONCESSION_MS)
    throw new AppError(
      "invalid-input",
      `A concession ends within ${LONGEST_CONCESSION_DAYS} days. ${UNCHANGED} Choose an earlier day, and grant another one then.`,
      { fields: [{ path, message: `must lie within ${LONGEST_CONCESSION_DAYS} days` }] },
    );
  return new Date(ends);
}

/** @throws AppError refused where the signer had a hand in a valid inspection of one of the frames */
async function assertMeasuredByOthers(
  db: pg.ClientBase,
  signer: PersonViewer,
  frameIds: readonly string[],
): Promise<void> {
  const { rows } = await db.query<RowOf<typeof judging>>(sql`
    select ${judging} from inspection i where i.plant_id = ${signer.plantId} and i.frame_id = any(${frameIds}::uuid[])
      and ${notWithdrawn}`);
  const ids = rows.map(({ id }) => id);
  await assertKeptApart(db, signer, ids, { act: "sign for it" });
}

/** What a signer saw of a batch: kept with the decision, since the batch goes on. */
function pictureOf({ evidence, decision, frames }: BatchWithEvidence) {
  return {
    verdicts: evidence.verdicts,
    reasons: decision.reasons,
    notes: decision.notes,
    frames: frames.map(({ serial, state, verdict }) => ({ serial, state, verdict })),
  };
}

function assertOneGroupEach(groups: readonly DecidedGroup[]): void {
  if (new Set(groups.map(({ id }) => id)).size < groups.length)
    throw new AppError("invalid-input", `Two groups have the same key. ${UNCHANGED} Give each a key of its own.`, {
      fields: [{ path: "groups", message: "have the same key twice" }],
    });
  const seen = new Set<string>();
  for (const serial of groups.flatMap(({ serials }) => [...new Set(serials)])) {
    if (seen.has(serial))
      throw new AppError("invalid-input", `Frame ${serial} is in two groups: choose one for it. ${UNCHANGED}`, {
        fields: [{ path: "groups", message: `holds ${serial} twice` }],
      });
    seen.add(serial);
  }
}

/** The evidence is that the cause is ours, or the signer says so: then what goes back needs a reason of its own. */
function assertNotAgainstCause(groups: readonly DecidedGroup[], cause: ToldCause): void {
  for (const { disposition, cause: said, againstCause } of groups) {
    if (disposition !== "return_to_supplier" || againstCause !== undefined) continue;
    if (cause.side !== "ours" && said !== "ours") continue;
    const points = cause.points.filter(({ side }) => side === "ours").map(({ text }) => text);
    const evidence =
      cause.side === "ours"
        ? `The evidence says that the cause is ours: ${points.join(" ")}`
        : "You say that the cause is ours.";
    throw new AppError("invalid-input", `${evidence} Say why the frames go back all the same. ${UNCHANGED}`, {
      fields: [{ path: "againstCause", message: "must be given where the cause is ours" }],
      details: { cause },
    });
  }
}

/** @throws AppError refused where a frame must not be released as it is */
function assertReleasable(batch: BatchWithEvidence, serials: ReadonlySet<string>): void {
  const shown = batch.frames.filter((frame) => serials.has(frame.serial));
  const bad = shown.find((frame) => frame.verdict === "does not conform" || frame.verdict === null);
  if (bad)
    throw new AppError(
      "refused",
      `Frame ${bad.serial} ${bad.verdict === null ? "was not measured" : "does not conform"}: it cannot be released. ${UNCHANGED} ` +
        "Measure it, rework it, return it, or grant a concession.",
    );
  const gauge = batch.decision.reasons.find(
    (reason) => reason.code === "gauge-out-of-order" && reason.serials.some((serial) => serials.has(serial)),
  );
  if (gauge)
    throw new AppError(
      "refused",
      `${gauge.text} What it measured proves nothing for a release. ${UNCHANGED} ` +
        "Withdraw these inspections and measure again, or grant a concession.",
    );
}

/**
 * Decides what is done with frames of a batch, in one or several groups, signed once with the password; all groups are recorded, or
 * none. The same act sent again changes nothing.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, conflict (a stale page), refused (a frame that has left, one that the
 *   signer measured and would let pass, a release of a frame that does not conform or rests on a gauge out of calibration),
 *   already-recorded-differently, invalid-input (an end where none belongs, a frame or a key in two groups, a return against our own cause without a reason)
 */
export async function decideGroups(
  viewer: Viewer,
  input: DecideGroups,
  now: Date = new Date(),
): Promise<{ readonly frames: number }> {
  const { batchId, batchVersion, groups } = input;
  for (const { disposition } of groups) assertMay(viewer, FRAME_ACTS[disposition].may);
  const ends = await Promise.all(groups.map((group) => assertDisposition(viewer, group, now)));
  assertOneGroupEach(groups);
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  const count = new Set(groups.flatMap(({ serials }) => serials)).size;
  return inSqlTransaction(async (db) => {
    const frames = await lockFrames(
      db,
      plantId,
      groups.flatMap(({ serials }) => serials),
    );
    if (await isActRepeated(db, plantId, input, ends)) return { frames: count };
    const key = await lockBatch(db, plantId, batchId, batchVersion);
    const chosen = groups.map((group) => chosenOf(frames, batchId, key, group));
    const passing = groups.flatMap(({ disposition }, at) => (LETS_PASS.has(disposition) ? (chosen[at] ?? []) : []));
    if (passing.length > 0)
      await assertMeasuredByOthers(
        db,
        signer,
        passing.map((frame) => frame.id),
      );
    const batch = await readBatchEvidence(db, plantId, batchId);
    if (batch === null) throw new AppError("not-found", `This batch is not known. ${UNCHANGED}`);
    for (const { disposition, serials } of groups)
      if (disposition === "release") assertReleasable(batch, new Set(serials));
    const cause = await readCause(db, viewer, batch);
    assertNotAgainstCause(groups, cause);
    for (const [at, group] of groups.entries()) {
      const { id, disposition, serials, grounds } = group;
      const frameIds = (chosen[at] ?? []).map((frame) => frame.id);
      const expiresAt = ends[at] ?? null;
      await moveFrames(db, plantId, { disposition, frameIds, expiresAt, now });
      const own = new Set(serials);
      const shown = batch.frames.filter((frame) => own.has(frame.serial));
      const evidence = {
        batch: key,
        frames: shown.map(({ serial, verdict, judgement }) => ({ serial, verdict, judgement })),
        cause: { ...cause, ...saidOf(group) },
        // The others of the same act saw the same.
        ...(at === 0 ? { picture: pictureOf(batch) } : { pictureOf: groups[0]?.id }),
      };
      const draft = { id, kind: disposition, batchId, frameIds, grounds, evidence, expiresAt };
      await recordDecision(db, signer, draft, `frames.${disposition}`, { batch: key, serials }, now);
    }
    await db.query(sql`update batch set version = version + 1 where plant_id = ${plantId} and id = ${batchId}`);
    return { frames: count };
  });
}

/** What a signer said of the cause with a group, as its evidence holds it. */
const saidOf = ({ cause, againstCause, cost }: DecidedGroup) => ({
  said: cause ?? null,
  against: againstCause ?? null,
  cost: cost ?? null,
});

/**
 * Whether an act was recorded before.
 * @throws AppError already-recorded-differently where one of its groups was, with other content or without the others
 */
async function isActRepeated(
  db: pg.ClientBase,
  plantId: string,
  { batchId, groups }: DecideGroups,
  ends: readonly (Date | null)[],
): Promise<boolean> {
  let repeated = 0;
  for (const [at, group] of groups.entries()) {
    const asked = { ...group, batchId, kind: group.disposition, expiresAt: ends[at] ?? null };
    if (await isRepeated(db, plantId, { ...asked, said: { cause: saidOf(group) } })) repeated += 1;
  }
  if (repeated > 0 && repeated < groups.length)
    throw new AppError(
      "already-recorded-differently",
      `Some of these groups were recorded before, without the others. ${UNCHANGED} Look again and decide on the others.`,
    );
  return repeated > 0;
}

type LockedFrames = Awaited<ReturnType<typeof lockFrames>>;

function chosenOf(
  frames: LockedFrames,
  batchId: string,
  key: string,
  { serials, disposition }: DecidedGroup,
): NonNullable<ReturnType<LockedFrames["get"]>>[] {
  return [...new Set(serials)].map((serial) => {
    const frame = frames.get(serial);
    if (!frame || frame.batchId !== batchId)
      throw new AppError("not-found", `Frame ${serial} is not of batch ${key}. ${UNCHANGED}`);
    if (!mayMove(disposition, frame.state))
      throw new AppError("refused", `Frame ${serial} is ${frame.state} already. ${UNCHANGED}`);
    if (frame.leaseDeviceId !== null)
      throw new AppError(
        "frame-leased",
        `Frame ${serial} is being measured on ${frame.leaseDeviceId}. ${UNCHANGED} Wait for its readings.`,
      );
    return frame;
  });
}

async function moveFrames(
  db: pg.ClientBase,
  plantId: string,
  {
    disposition,
    frameIds,
    expiresAt,
    now,
  }: { disposition: Disposition; frameIds: readonly string[]; expiresAt: Date | null; now: Date },
): Promise<void> {
  await db.query(sql`
    update frame set state = ${STATE_AFTER_DECISION[disposition]}::"FrameState", concession_until = ${expiresAt},
      evidence_from = case when ${CHANGES_FRAME.has(disposition)} then ${now}::timestamptz else evidence_from end,
      version = version + 1
    where plant_id = ${plantId} and id = any(${frameIds}::uuid[])`);
}

/** Decides what is done with some frames of a batch: one group of `decideGroups`. */
export function decideFrames(
  viewer: Viewer,
  { batchId, batchVersion, password, ...group }: DecideFrames,
  now: Date = new Date(),
): Promise<{ readonly frames: number }> {
  return decideGroups(viewer, { batchId, batchVersion, password, groups: [group] }, now);
}

/**
 * Opens a held batch, signed with the password. Refused while a reason stands: a batch opens because its evidence is good, or
 * because each bad frame has had a decision of its own.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, conflict, refused
 */
export async function releaseBatch(viewer: Viewer, input: ReleaseBatch, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "gate.decide");
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  const capability = await readSampledCapability(plantId, input.batchId);
  await inSqlTransaction(async (db) => {
    // Locked first: of the same release sent twice at once, the second finds the first one's record.
    await db.query(sql`select 1 from batch where plant_id = ${plantId} and id = ${input.batchId} for update`);
    if (await isRepeated(db, plantId, { ...input, kind: "release", serials: [] })) return;
    const key = await lockBatch(db, plantId, input.batchId, input.batchVersion);
    const batch = await readBatchEvidence(db, plantId, input.batchId, capability);
    if (!batch) throw new AppError("not-found", `This batch is not known. ${UNCHANGED}`);
    if (batch.heldAt === null) throw new AppError("conflict", `Batch ${key} is not held. ${UNCHANGED}`);
    const { decision, reasons } = batch.decision;
    if (decision === "hold")
      throw new AppError(
        "refused",
        `Batch ${key} cannot be released: ${reasons.map((one) => one.text).join(" ")} ${UNCHANGED}`,
        {
          details: { reasons },
        },
      );
    await db.query(sql`
      update batch set held_at = null, released_at = ${now}, version = version + 1
      where plant_id = ${plantId} and id = ${input.batchId}`);
    const { id, batchId, grounds } = input;
    const evidence = {
      batch: key,
      verdicts: batch.evidence.verdicts,
      notes: batch.decision.notes,
      picture: pictureOf(batch),
    };
    const draft = { id, kind: "release" as const, batchId, frameIds: [], grounds, evidence, expiresAt: null };
    await recordDecision(db, signer, draft, "batch.released", { batch: key }, now);
  });
}
