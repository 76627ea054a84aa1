import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { feltSubjectOf } from "@/lib/core/metrology/felt-subject";
import { FELT_SUBJECT_WORDS } from "@/lib/format/felt-words";
import { judgingReasonText, toldCharacteristics } from "@/lib/format/judging-words";
import { isFeltContradiction } from "@/lib/quality/felt-sides";
import { FRAME_ACTS, type FrameState } from "@/lib/quality/frame-state";
import { judgeOperations, type FrameEvidenceNow } from "@/lib/quality/judge-operations";
import type { ResolveDisagreement } from "@/lib/schemas/decision";
import { assertKeptApart } from "../auth/kept-apart";
import { devicesOf } from "../auth/device-tie";
import { assertMay } from "../auth/permissions";
import { assertSigned } from "../auth/signature";
import type { PersonViewer, Viewer } from "../auth/viewer";
import { batchColumns } from "../db/columns/batch";
import { frameColumns } from "../db/columns/frame";
import { type RowOf, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { askedOf } from "../evidence/batch-plan";
import type { EarlierInspection } from "../evidence/earlier-inspections";
import { readEarlier } from "../evidence/earlier-inspections";
import { getReferenceData, withGaugesAsNow, type ReferenceData } from "../evidence/reference-data";
import { type SignedSide, withSides } from "../evidence/stored-evidence";
import { findInspection, judgeFrameAgain, takeOut, type LockedInspection } from "../inspections/withdraw-inspection";
import { lockChain } from "../journal/append-journal";
import { isRepeated, recordDecision } from "./commands";

const UNCHANGED = "Nothing was changed.";

const frameAndBatch = together(
  frameColumns("f", ["id", "state", "evidenceFrom"]),
  batchColumns("b", { batchId: "id", batchKey: "key", planId: "planId" }),
);
type FrameRow = RowOf<typeof frameAndBatch>;

async function findFrame(db: pg.ClientBase, plantId: string, serial: string): Promise<FrameRow> {
  const { rows } = await db.query<FrameRow>(sql`
    select ${frameAndBatch} from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where f.plant_id = ${plantId} and f.serial = ${serial}`);
  if (rows[0]) return rows[0];
  throw new AppError("not-found", `No frame has the serial ${serial}. ${UNCHANGED}`);
}

/** Locks the lines of some inspections, in the order of their keys, then their frame. */
async function lockInspections(
  db: pg.ClientBase,
  plantId: string,
  frameId: string,
  ids: readonly string[],
): Promise<LockedInspection[]> {
  const found = [];
  for (const id of [...new Set(ids)].sort()) {
    const one = await findInspection(db, plantId, id);
    if (one?.frameId !== frameId)
      throw new AppError("not-found", `One of these inspections is not of this frame, or was withdrawn. ${UNCHANGED}`);
    found.push({ id, found: one });
  }
  const heads = new Map<string, LockedInspection["head"]>();
  for (const lineKey of [...new Set(found.map((one) => one.found.lineKey))].sort())
    heads.set(lineKey, await lockChain(db, plantId, `line:${lineKey}`));
  await db.query(sql`select 1 from frame where plant_id = ${plantId} and id = ${frameId} for update`);
  const locked: LockedInspection[] = [];
  for (const { id } of found) {
    // Read again: only now nobody can withdraw it.
    const one = await findInspection(db, plantId, id);
    const head = one === null ? undefined : heads.get(one.lineKey);
    if (one === null || head === undefined)
      throw new AppError("conflict", `One of these inspections was withdrawn meanwhile. ${UNCHANGED} Look again.`);
    locked.push({ id, found: one, head });
  }
  return locked;
}

type Standing = {
  readonly valid: readonly EarlierInspection[];
  readonly judge: (list: readonly EarlierInspection[]) => FrameEvidenceNow<EarlierInspection> | null;
};

async function readStanding(
  db: pg.ClientBase,
  plantId: string,
  frame: FrameRow,
  reference: ReferenceData,
): Promise<Standing> {
  const all = (await readEarlier(db, plantId, [frame], reference)).get(frame.id) ?? [];
  const { evidenceFrom } = frame;
  return {
    valid: all.filter((one) => evidenceFrom === null || one.measuredAt > evidenceFrom),
    judge: (list) => judgeOperations(list, askedOf(frame.planId, reference)),
  };
}

/** Who decides keyed none of the inspections among which is chosen, neither by sign-in nor by badge, nor on a device of theirs. */
async function assertStranger(
  db: pg.ClientBase,
  signer: PersonViewer,
  { valid }: Standing,
  operations: readonly string[],
) {
  const ids = valid.filter(({ operationId }) => operations.includes(operationId)).map(({ key }) => key);
  await assertKeptApart(db, signer, ids, { act: "decide which inspection counts", deviceIds: await devicesOf(signer) });
}

/** Inspections that contradict themselves, by which side counts now. */
function signedSides(
  contradicting: FrameEvidenceNow<EarlierInspection>["contradicting"],
  sides: readonly Omit<SignedSide, "inspection">[],
): SignedSide[] {
  return sides.flatMap(({ of, counts }) =>
    contradicting.filter(({ subject }) => subject === of).map(({ key }) => ({ inspection: key, of, counts })),
  );
}

/** What a decision would leave open of what it decides; null where nothing. A contradiction of other gauges may stay for another one. */
function stillOpen(
  after: FrameEvidenceNow<EarlierInspection> | null,
  sides: readonly Omit<SignedSide, "inspection">[],
): string | null {
  const undecided = new Set(
    (after?.contradicting ?? []).map(({ subject }) => subject).filter((of) => !sides.some((side) => side.of === of)),
  );
  const still = after?.reasons.find((one) => {
    if (!isFeltContradiction(one.code)) return one.code === "disagreement";
    const subject = feltSubjectOf(one);
    return subject === null || !undecided.has(subject);
  });
  if (still === undefined) return null;
  return still.reason === undefined ? "" : judgingReasonText(still.reason);
}

/**
 * Decides what counts of a frame's inspections where they disagree, or where what was felt and what was read contradict each
 * other, signed with the password by somebody who keyed none of them. Inspections that are set aside are withdrawn by this
 * decision; where a side counts, what its plugs or bars were about is judged by it alone, in each inspection that contradicts
 * itself. Nothing is thrown away: all stays on the record. A later inspection that disagrees or contradicts opens the question
 * again.
 *
 * @throws AppError forbidden, sign-in-refused, not-found, conflict, refused (nothing disagrees, nothing would be left, what would
 *   be left disagrees still, the signer had a hand in one of them)
 */
export async function resolveDisagreement(
  viewer: Viewer,
  input: ResolveDisagreement,
  now: Date = new Date(),
): Promise<{ readonly frameState: FrameState; readonly verdict: string }> {
  assertMay(viewer, FRAME_ACTS.resolve.may);
  const signer = await assertSigned(viewer, input.password);
  const { plantId } = signer;
  const remembered = await getReferenceData(plantId);
  return inSqlTransaction(async (db) => {
    const { id, serial, grounds, setAside = [], sides = [] } = input;
    const frame = await findFrame(db, plantId, serial);
    const said = { setAside: setAside.map((inspection) => ({ inspection })), sides };
    const asked = {
      id,
      kind: "resolve_disagreement" as const,
      batchId: frame.batchId,
      grounds,
      serials: [serial],
      said,
    };
    if (await isRepeated(db, plantId, asked)) return standsNow(db, plantId, frame.id);
    const reference = await withGaugesAsNow(db, plantId, remembered);
    // Looked at once without a lock, to know which inspections are concerned, and again behind it.
    const seen = await readStanding(db, plantId, frame, reference);
    const contradicting = sides.length === 0 ? [] : (seen.judge(seen.valid)?.contradicting ?? []).map(({ key }) => key);
    const locked = await lockInspections(db, plantId, frame.id, [...setAside, ...contradicting]);
    const taken = locked.filter((one) => setAside.includes(one.id));
    const standing = await readStanding(db, plantId, frame, reference);
    const before = standing.judge(standing.valid);
    if (before === null || before.disagreeing.length === 0)
      throw new AppError("refused", `The inspections of frame ${serial} do not disagree. ${UNCHANGED}`);
    await assertStranger(db, signer, standing, before.disagreeing);
    const unknown = sides.find(({ of }) => !before.contradicting.some(({ subject }) => subject === of));
    if (unknown !== undefined)
      throw new AppError(
        "refused",
        `What was felt with the ${FELT_SUBJECT_WORDS[unknown.of]} and what was read do not contradict each other. ${UNCHANGED}`,
      );
    const aside = new Set(taken.map((one) => one.id));
    const signed = signedSides(before.contradicting, sides).filter(({ inspection }) => !aside.has(inspection));
    const counting = standing.valid.filter(({ key }) => !aside.has(key));
    for (const operationId of before.disagreeing)
      if (!counting.some((one) => one.operationId === operationId))
        throw new AppError(
          "refused",
          `No inspection would be left that counts. ${UNCHANGED} Leave one, or have them withdrawn and measure again.`,
        );
    const still = stillOpen(standing.judge(counting.map((one) => withSides(one, signed))), sides);
    if (still !== null)
      throw new AppError(
        "refused",
        `What would be left disagrees still: ${still}. ${UNCHANGED} Decide otherwise, or measure again with another gauge.`,
      );
    const reason = `set aside by a signed decision: ${grounds}`.slice(0, 500);
    const [first] = locked;
    if (first === undefined)
      throw new AppError("conflict", `The inspections of frame ${serial} changed meanwhile. ${UNCHANGED} Look again.`);
    const again = { act: "resolve" as const, remembered, now, signed };
    const { frameState, evidence: left } =
      taken.length > 0
        ? await takeOut(db, signer, taken, reason, again)
        : await judgeFrameAgain(db, plantId, first.found, again);
    await db.query(sql`
      update batch set version = version + 1 where plant_id = ${plantId} and id = ${frame.batchId}`);
    const evidence = {
      batch: frame.batchKey,
      frame: serial,
      before: { verdict: before.verdict, judgement: toldCharacteristics(before.reasons) },
      counts: counting.map(({ key, label }) => ({ inspection: key, label })),
      setAside: standing.valid
        .filter(({ key }) => aside.has(key))
        .map(({ key, label }) => ({ inspection: key, label })),
      // Read when the frame is judged: what the signer decided is kept nowhere else.
      sides: signed,
      after: { verdict: left?.verdict ?? "not measured", judgement: toldCharacteristics(left?.reasons ?? []) },
    };
    const draft = {
      id,
      kind: asked.kind,
      batchId: frame.batchId,
      frameIds: [frame.id],
      grounds,
      evidence,
      expiresAt: null,
    };
    await recordDecision(db, signer, draft, "frame.disagreement-resolved", { batch: frame.batchKey, serial }, now);
    return { frameState, verdict: evidence.after.verdict };
  });
}

const standing = frameColumns("frame", { frameState: "state", verdict: "verdict" });

async function standsNow(db: pg.ClientBase, plantId: string, frameId: string) {
  const { rows } = await db.query<RowOf<typeof standing>>(sql`
    select ${standing} from frame where plant_id = ${plantId} and id = ${frameId}`);
  const [row] = rows;
  if (row === undefined) throw new AppError("not-found", `This frame is not known. ${UNCHANGED}`);
  return { frameState: row.frameState, verdict: row.verdict ?? "not measured" };
}
