import "server-only";
import { AppError } from "@/lib/errors";
import { APPROVABLE_FRAMES, estimateControlLimits, streamValue } from "@/lib/quality/control-limits";
import type { AddEvent, ApproveLimits, AssignCause, AssignCauses } from "@/lib/schemas/decision";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { subjectsOf } from "../journal/row-hashes";
import { momentDone } from "../moment";
import { evaluateGroup, putLimitsInForce } from "../streams/evaluate-streams";
import { streamOf } from "./charted-frames";

type StreamHead = { feature: string; lineId: string; lineKey: string; operationId: string; drawingId: string };
type BaselineRow = { at: Date; features: (number | null)[] };

/**
 * Computes limits from a baseline, approves them and puts them in force as a new version; what was measured since is judged
 * by them again. Frames whose signal has an assigned cause are left out.
 *
 * @throws AppError forbidden, not-found, refused (fewer than 100 frames, no variation)
 */
export async function approveLimits(
  viewer: Viewer,
  input: ApproveLimits,
  now: Date = new Date(),
): Promise<{ readonly frames: number }> {
  assertMay(viewer, "drift.approve-limits");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query<StreamHead>(sql`
      select st.feature, st.line_id as "lineId", l.key as "lineKey", st.operation_id as "operationId", st.drawing_id as "drawingId"
      from stream st join line l on l.plant_id = st.plant_id and l.id = st.line_id
      where st.plant_id = ${plantId} and st.id = ${input.streamId} for update of st`);
    const head = rows[0];
    if (!head) throw new AppError("not-found", "There is no such stream. Nothing was changed.");
    const stream = streamOf(head.feature);
    const baseline = await db.query<BaselineRow>(sql`
      select at, features from (
        select i.measured_at as at, i.id, i.features from inspection i
        where i.plant_id = ${plantId} and i.line_id = ${head.lineId} and i.operation_id = ${head.operationId}
          and i.drawing_id = ${head.drawingId} and i.ordinal = 1
          and (${input.from ?? null}::timestamptz is null or i.measured_at >= ${input.from ?? null})
          and (${input.to ?? null}::timestamptz is null or i.measured_at <= ${input.to ?? null})
          and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)
          and not exists (select 1 from signal s where s.plant_id = i.plant_id and s.stream_id = ${input.streamId}
            and s.inspection_id = i.id and s.state = 'assigned')
        order by i.measured_at desc, i.id desc limit ${input.from === undefined ? APPROVABLE_FRAMES : 100_000}) newest
      order by at, id`);
    const charted = baseline.rows.flatMap(({ at, features }) => {
      const value = streamValue(stream, features);
      return value === null ? [] : [{ at, value }];
    });
    const first = charted[0];
    const last = charted.at(-1);
    if (!first || !last || charted.length < APPROVABLE_FRAMES)
      throw new AppError(
        "refused",
        `Limits can be approved from ${APPROVABLE_FRAMES} frames on; this baseline has ${charted.length}. Nothing was changed; choose a longer one or wait.`,
      );
    const limits = estimateControlLimits(
      stream,
      charted.map((one) => one.value),
    );
    if (!limits.ok) throw new AppError("refused", `${limits.reason} Nothing was changed.`);
    const approval = { personId, at: now };
    const id = await putLimitsInForce(
      db,
      plantId,
      input.streamId,
      limits.value,
      { from: first.at, to: last.at },
      approval,
      now,
    );
    const group = { lineId: head.lineId, operationId: head.operationId, drawingId: head.drawingId };
    await evaluateGroup(db, plantId, group, { from: last.at, to: now }, {}, now);
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "limits.approved",
      subjects: [],
      payload: { stream: input.streamId, limitSet: id, frames: charted.length, from: first.at, to: last.at },
    });
    return { frames: charted.length };
  });
}

/** Assigns a cause to a signal, which closes it; its frame is left out of later baselines. */
export async function assignCause(viewer: Viewer, input: AssignCause, now: Date = new Date()): Promise<void> {
  await assignCauses(viewer, { signalIds: [input.signalId], cause: input.cause }, now);
}

/**
 * Assigns one cause to several signals, which closes them: one thing that happened meets many rules.
 *
 * @returns how many signals got the cause
 * @throws AppError forbidden, not-found if one of them was overtaken meanwhile; then none is changed
 */
export async function assignCauses(
  viewer: Viewer,
  input: AssignCauses,
  now: Date = new Date(),
): Promise<{ readonly signals: number }> {
  assertMay(viewer, "drift.assign-cause");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  const signalIds = [...new Set(input.signalIds)];
  return inSqlTransaction(async (db) => {
    const { rows } = await db.query(sql`
      update signal set state = 'assigned', cause = ${input.cause}, assigned_by_id = ${personId}, assigned_at = ${now}
      where plant_id = ${plantId} and id = any(${signalIds}::uuid[]) and state in ('open', 'assigned') returning id`);
    if (rows.length < signalIds.length)
      throw new AppError(
        "not-found",
        signalIds.length === 1
          ? "This signal is not open any more. Nothing was changed; look again."
          : `${signalIds.length - rows.length} of these signals are not open any more. Nothing was changed; look again.`,
      );
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "signal.cause-assigned",
      subjects: [],
      payload: { signals: signalIds, cause: input.cause },
    });
    return { signals: rows.length };
  });
}

/**
 * Records what people did: a reamer changed, a fixture shimmed. The same event sent again changes nothing.
 *
 * @throws AppError forbidden, invalid-input (before the year 2000, or in the future)
 */
export async function addEvent(viewer: Viewer, input: AddEvent, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "drift.add-event");
  const { plantId } = viewer;
  const at = momentDone(new Date(input.at), now, { of: "event", kept: "Nothing was entered.", path: "at" });
  await inSqlTransaction(async (db) => {
    const { rows } = await db.query(sql`
      insert into event (plant_id, id, line_id, kind, at, text, subject, person_id)
      values (${plantId}, ${input.id}, ${input.lineId ?? null}, ${input.kind}, ${at}, ${input.text}, ${input.subject ?? null},
        ${viewer.kind === "person" ? viewer.personId : null})
      on conflict do nothing returning id`);
    if (rows.length === 0) return;
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "event.recorded",
      subjects: await subjectsOf(db, plantId, "event", [input.id]),
      payload: { id: input.id, kind: input.kind, text: input.text },
    });
  });
}
