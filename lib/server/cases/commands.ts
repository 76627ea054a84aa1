import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { causeName } from "@/lib/format/case-words";
import { alarmKeyOf } from "@/lib/quality/alarm/alarm-streams";
import type { CauseCode } from "@/lib/quality/cases/case";
import type { AssignCaseCause, AssignOwner, CloseCase, NoteStep, ReopenCase, TickStep } from "@/lib/schemas/case";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { driftCaseColumns } from "../db/columns/drift-case";
import { inspectionColumns, notWithdrawn } from "../db/columns/inspection";
import { personColumns } from "../db/columns/person";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { followLine } from "../evidence/case-work";
import { lockChain } from "../journal/append-journal";
import { type Restart, STATE_EVERY } from "./advance-watch";
import { spreadBudget } from "./alarm-scheme";
import { mayOwnCases } from "./case-owners";
import { CASES_CHAIN, type NewEntry, writeEntries } from "./case-entries";

const locked = driftCaseColumns("c", [
  "id",
  "number",
  "watchId",
  "lineId",
  "operationId",
  "drawingId",
  "state",
  "found",
  "overAt",
  "stands",
  "cause",
  "ownerId",
]);
type LockedCase = RowOf<typeof locked>;

/** Locks a case with its watch, which whoever follows the line locks first, too. */
async function lockCase(db: pg.ClientBase, plantId: string, id: string): Promise<LockedCase> {
  await db.query(sql`
    select w.id from alarm_watch w join drift_case c on c.plant_id = w.plant_id and c.watch_id = w.id
    where c.plant_id = ${plantId} and c.id = ${id} for update of w`);
  const { rows } = await db.query<LockedCase>(sql`
    select ${locked} from drift_case c where c.plant_id = ${plantId} and c.id = ${id} for update`);
  const found = rows[0];
  if (found === undefined) throw new AppError("not-found", "There is no such case. Nothing was changed.");
  if (found.state === "joined")
    throw new AppError(
      "refused",
      "This case turned out to be one change with another one. Nothing was changed; open that one.",
    );
  return found;
}

function assertOpen({ state, number }: LockedCase): void {
  if (state !== "open")
    throw new AppError(
      "refused",
      `Case ${number} is closed already. Nothing was changed; look again, and reopen it if it is not over.`,
    );
}

type Acting = { readonly action: string; readonly entry: Omit<NewEntry, "caseId"> };

/** What a person does with a case: in one transaction with its entry and the journal's. */
async function act(
  viewer: Viewer,
  caseId: string,
  now: Date,
  work: (db: pg.ClientBase, found: LockedCase) => Promise<Acting>,
): Promise<void> {
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  await inSqlTransaction(async (db) => {
    const found = await lockCase(db, plantId, caseId);
    const { action, entry } = await work(db, found);
    const head = await lockChain(db, plantId, CASES_CHAIN);
    await writeEntries(db, plantId, head, [{ ...entry, caseId }], { actor: actorOf(viewer), personId, action }, now);
  });
}

const named = personColumns("p", ["name"]);

/** Gives a case to somebody, or to nobody. @throws AppError forbidden, not-found, refused for a closed one */
export async function assignOwner(viewer: Viewer, { caseId, ownerId }: AssignOwner, now = new Date()): Promise<void> {
  assertMay(viewer, "drift.manage-cases");
  const { plantId } = viewer;
  await act(viewer, caseId, now, async (db, found) => {
    assertOpen(found);
    const { rows } = await db.query<RowOf<typeof named>>(sql`
      select ${named} from person p where p.plant_id = ${plantId} and p.id = ${ownerId} and ${mayOwnCases}`);
    const owner = rows[0]?.name ?? null;
    if (ownerId !== null && owner === null)
      throw new AppError(
        "not-found",
        "There is no such person, they have left, or they do not look after cases. Nothing was changed; choose one of the list.",
      );
    await db.query(sql`
      update drift_case set owner_id = ${ownerId}, version = version + 1 where plant_id = ${plantId} and id = ${caseId}`);
    return { action: "case.owner-assigned", entry: { kind: "owner", text: owner, data: { ownerId } } };
  });
}

/**
 * Notes what was done or found, or what is to be done; of a closed case, too, since work goes on after it.
 *
 * @throws AppError forbidden, not-found
 */
export async function noteStep(
  viewer: Viewer,
  { caseId, text, isPlanned = false }: NoteStep,
  now = new Date(),
): Promise<void> {
  assertMay(viewer, "drift.note-step");
  const data = isPlanned ? { isPlanned: true } : {};
  await act(viewer, caseId, now, () =>
    Promise.resolve({ action: "case.step-noted", entry: { kind: "step", text, data } }),
  );
}

type KeptStep = { readonly text: string | null; readonly isPlanned: boolean; readonly isTicked: boolean };

/**
 * Ticks what was to be done, with what was found.
 *
 * @throws AppError forbidden, not-found, conflict where it is ticked already
 */
export async function tickStep(
  viewer: Viewer,
  { caseId, stepId, found = "" }: TickStep,
  now = new Date(),
): Promise<void> {
  assertMay(viewer, "drift.note-step");
  const { plantId } = viewer;
  await act(viewer, caseId, now, async (db) => {
    const { rows } = await db.query<KeptStep>(sql`
      select e.text, coalesce((e.data->>'isPlanned')::boolean, false) as "isPlanned", exists (
        select from case_entry t where t.plant_id = e.plant_id and t.case_id = e.case_id and t.kind = 'ticked'
          and t.data->>'stepId' = ${stepId}::text) as "isTicked"
      from case_entry e
      where e.plant_id = ${plantId} and e.case_id = ${caseId} and e.id = ${stepId} and e.kind = 'step'`);
    const step = rows[0];
    if (step === undefined || !step.isPlanned)
      throw new AppError("not-found", "There is no such step to be done. Nothing was changed; look again.");
    if (step.isTicked)
      throw new AppError("conflict", `“${step.text ?? ""}” is ticked already. Nothing was changed; look again.`);
    return {
      action: "case.step-ticked",
      entry: { kind: "ticked", text: found === "" ? null : found, data: { stepId } },
    };
  });
}

/**
 * Assigns the one cause of a case; another one replaces it, and both stay in its history. The case stays open.
 *
 * @throws AppError forbidden, not-found, refused where the readings exclude it or the case is closed
 */
export async function assignCaseCause(viewer: Viewer, input: AssignCaseCause, now = new Date()): Promise<void> {
  assertMay(viewer, "drift.manage-cases");
  const { plantId } = viewer;
  const { caseId, cause } = input;
  await act(viewer, caseId, now, async (db, found) => {
    assertOpen(found);
    const ranked = found.found.causes.find((one) => one.cause === cause);
    if (ranked === undefined && !cause.startsWith("own: "))
      throw new AppError(
        "invalid-input",
        `“${cause}” is no cause of the list. Nothing was changed; choose one, or write your own.`,
      );
    if (ranked?.lnOdds === null)
      throw new AppError(
        "refused",
        `The readings exclude ${causeName(cause as CauseCode)}: see the reasons against it. Nothing was changed; choose another cause.`,
      );
    await db.query(sql`
      update drift_case set cause = ${cause}, version = version + 1 where plant_id = ${plantId} and id = ${caseId}`);
    return { action: "case.cause-assigned", entry: { kind: "cause", text: cause, data: { before: found.cause } } };
  });
}

const frameAt = inspectionColumns("i", { id: "id", at: "measuredAt" });

/** Streams of a case begin anew where it began, or where the oldest state of its line is kept. */
async function restartStreamsOf(db: pg.ClientBase, plantId: string, found: LockedCase): Promise<void> {
  const keys = [
    ...new Set(found.found.members.flatMap(({ by, feature }) => (by === "signal" ? (alarmKeyOf(feature) ?? []) : []))),
  ];
  const { rows } = await db.query<RowOf<typeof frameAt>>(sql`
    select ${frameAt} from inspection i join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    where i.plant_id = ${plantId} and f.serial = ${found.found.since.serial} and i.line_id = ${found.lineId}
      and i.operation_id = ${found.operationId} and i.drawing_id = ${found.drawingId} and i.ordinal = 1 and ${notWithdrawn}
    order by i.measured_at, i.id limit 1`);
  const oldest = await db.query<{ at: Date; id: string; place: number }>(sql`
    select at, inspection_id as id, place from alarm_state where plant_id = ${plantId} and watch_id = ${found.watchId}
    order by place limit 1`);
  const first = rows[0];
  const anchor = oldest.rows[0];
  if (first === undefined)
    throw new AppError(
      "refused",
      "The first frame of the change was withdrawn. Nothing was changed; close it without a new level.",
    );
  // What comes before the oldest state is not looked at any more.
  const isKept = anchor === undefined || anchor.place <= STATE_EVERY || first.at > anchor.at;
  const from = isKept ? first : await nextAfter(db, plantId, found, anchor);
  const restart: Restart = { keys, at: from.at.toISOString(), id: from.id };
  await db.query(sql`
    update alarm_watch set restarts = restarts || ${JSON.stringify([restart])}::jsonb
    where plant_id = ${plantId} and id = ${found.watchId}`);
  await db.query(sql`
    delete from alarm_state where plant_id = ${plantId} and watch_id = ${found.watchId}
      and (at, inspection_id) >= (${from.at}::timestamptz, ${from.id}::uuid)`);
}

async function nextAfter(
  db: pg.ClientBase,
  plantId: string,
  found: LockedCase,
  after: { readonly at: Date; readonly id: string },
): Promise<{ readonly at: Date; readonly id: string }> {
  const { rows } = await db.query<RowOf<typeof frameAt>>(sql`
    select ${frameAt} from inspection i
    where i.plant_id = ${plantId} and i.line_id = ${found.lineId} and i.operation_id = ${found.operationId}
      and i.drawing_id = ${found.drawingId} and i.ordinal = 1 and ${notWithdrawn}
      and (i.measured_at, i.id) > (${after.at}::timestamptz, ${after.id}::uuid)
    order by i.measured_at, i.id limit 1`);
  return rows[0] ?? after;
}

/**
 * Closes a case, once, with a reason. With a new level what is measured since the change is normal from then on: its streams begin
 * anew there, provisional at first.
 *
 * @throws AppError forbidden, not-found, refused where it is closed, has no cause, or is over and has no level to keep
 */
export async function closeCase(viewer: Viewer, input: CloseCase, now = new Date()): Promise<void> {
  assertMay(viewer, "drift.manage-cases");
  const { plantId } = viewer;
  const { caseId, reason, hasNewLevel } = input;
  await act(viewer, caseId, now, async (db, found) => {
    assertOpen(found);
    if (found.cause === null && found.stands)
      throw new AppError(
        "refused",
        `Case ${found.number} has no cause yet. Nothing was changed; assign one first, “unknown” if it was not found.`,
      );
    if (hasNewLevel && found.overAt !== null)
      throw new AppError(
        "refused",
        "The change is over, so there is no new level to keep. Nothing was changed; close it without one.",
      );
    if (hasNewLevel) await restartStreamsOf(db, plantId, found);
    await db.query(sql`
      update drift_case set state = 'closed', closed_at = ${now}, version = version + 1
      where plant_id = ${plantId} and id = ${caseId}`);
    await followLine(db, plantId, found.lineId);
    return {
      action: "case.closed",
      entry: { kind: "closed", text: reason, data: { cause: found.cause, hasNewLevel } },
    };
  });
}

/** Opens a closed case again: it was not over. @throws AppError forbidden, not-found, refused where it is open */
export async function reopenCase(viewer: Viewer, { caseId, reason }: ReopenCase, now = new Date()): Promise<void> {
  assertMay(viewer, "drift.manage-cases");
  const { plantId } = viewer;
  await act(viewer, caseId, now, async (db, found) => {
    if (found.state !== "closed") throw new AppError("refused", `Case ${found.number} is open. Nothing was changed.`);
    await db.query(sql`
      update drift_case set state = 'open', closed_at = null, version = version + 1 where plant_id = ${plantId} and id = ${caseId}`);
    return { action: "case.reopened", entry: { kind: "reopened", text: reason } };
  });
}

/** Sets how many false cases a working week the plant bears: a new version of the scheme. @throws AppError forbidden */
export async function setBudget(
  viewer: Viewer,
  { budget }: { readonly budget: number },
  now = new Date(),
): Promise<void> {
  assertMay(viewer, "drift.set-budget");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  await inSqlTransaction((db) =>
    spreadBudget(db, plantId, { budget, reason: "budget", personId, actor: actorOf(viewer), effectiveFrom: now }, now),
  );
}
