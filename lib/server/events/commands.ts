import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import type { AddEvent, CorrectEvent, SentEvent } from "@/lib/schemas/event";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { momentDone } from "../base/moment";
import { eventColumns } from "../db/columns/event";
import type { RowOf } from "../db/columns/table-columns";
import { lineColumns } from "../db/columns/line";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { subjectsOf } from "../journal/row-hashes";
import { EVENT_ERRORS as words } from "./words";

const personOf = (viewer: Viewer): string | null => (viewer.kind === "person" ? viewer.personId : null);

/** A second try after a lost answer changes nothing; its time may be a later "now". */
async function assertSameEvent(db: pg.ClientBase, plantId: string, input: AddEvent): Promise<void> {
  const { rows } = await db.query<{ same: boolean }>(sql`
    select kind = ${input.kind} and text = ${input.text} and line_id is not distinct from ${input.lineId ?? null}::uuid
      and subject is not distinct from ${input.subject ?? null}::text as same
    from event where plant_id = ${plantId} and id = ${input.id}`);
  if (rows[0]?.same !== true) throw new AppError("already-recorded-differently", words.otherUnderThisKey);
}

/** @returns false where it was there already, with the same words */
async function insertEvent(db: pg.ClientBase, viewer: Viewer, input: AddEvent, now: Date): Promise<boolean> {
  const at = momentDone(new Date(input.at), now, {
    of: "event",
    kept: words.nothingEntered,
    path: "at",
    zone: viewer.plantZone,
  });
  const { rows } = await db.query(sql`
    insert into event (plant_id, id, line_id, kind, at, text, subject, person_id)
    values (${viewer.plantId}, ${input.id}, ${input.lineId ?? null}, ${input.kind}, ${at}, ${input.text},
      ${input.subject ?? null}, ${personOf(viewer)})
    on conflict do nothing returning id`);
  if (rows.length > 0) return true;
  await assertSameEvent(db, viewer.plantId, input);
  return false;
}

/**
 * Records what people did: a reamer changed, a fixture shimmed. The same event sent again changes nothing.
 *
 * @throws AppError forbidden, invalid-input (before the year 2000, or in the future), already-recorded-differently
 */
export async function addEvent(viewer: Viewer, input: AddEvent, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "drift.add-event");
  await inSqlTransaction(async (db) => {
    if (!(await insertEvent(db, viewer, input, now))) return;
    await appendJournal(db, {
      plantId: viewer.plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "event.recorded",
      subjects: await subjectsOf(db, viewer.plantId, "event", [input.id]),
      payload: { id: input.id, kind: input.kind, text: input.text },
    });
  });
}

type Earlier = { readonly id: string; readonly insteadId: string | null; readonly at: Date; readonly reason: string };

/** Somebody corrected the event before: the same again changes nothing, anything else is refused. */
async function assertSameCorrection(db: pg.ClientBase, viewer: Viewer, input: CorrectEvent): Promise<void> {
  const { rows } = await db.query<Earlier>(sql`
    select id, instead_id as "insteadId", at, reason from event_correction
    where plant_id = ${viewer.plantId} and (event_id = ${input.eventId} or id = ${input.id}) limit 1`);
  const earlier = rows[0];
  if (earlier?.id === input.id && earlier.insteadId === (input.instead?.id ?? null) && earlier.reason === input.reason)
    return;
  if (earlier === undefined) throw new AppError("conflict", words.placeIsTaken);
  throw new AppError("conflict", words.correctedBefore(formatMoment(earlier.at, { zone: viewer.plantZone })));
}

const corrected = eventColumns("event", ["lineId"]);

/**
 * Says that an event was entered wrong: another one stands in its place, or nothing was done. The first one stays on the record
 * and counts for nothing any more. The same correction sent again changes nothing.
 *
 * @throws AppError forbidden, not-found, conflict (it was corrected before), invalid-input, already-recorded-differently
 */
export async function correctEvent(viewer: Viewer, input: CorrectEvent, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "drift.add-event");
  const { plantId } = viewer;
  const { instead } = input;
  await inSqlTransaction(async (db) => {
    const { rows } = await db.query<RowOf<typeof corrected>>(
      sql`select ${corrected} from event where plant_id = ${plantId} and id = ${input.eventId}`,
    );
    const wrong = rows[0];
    if (wrong === undefined) throw new AppError("not-found", words.noSuchEvent);
    if (instead !== null) {
      if (instead.id === input.eventId) throw new AppError("invalid-input", words.ofItself);
      const inPlace = { ...instead, ...(wrong.lineId === null ? {} : { lineId: wrong.lineId }) };
      // One that was there by itself does not move into a place: it may be wrong, too, and two would stand for each other.
      if (!(await insertEvent(db, viewer, inPlace, now))) return assertSameCorrection(db, viewer, input);
    }
    const added = await db.query(sql`
      insert into event_correction (plant_id, id, event_id, instead_id, reason, at, person_id, token_id)
      values (${plantId}, ${input.id}, ${input.eventId}, ${instead?.id ?? null}, ${input.reason}, ${now}, ${personOf(viewer)},
        ${viewer.kind === "token" ? viewer.tokenId : null})
      on conflict do nothing returning id`);
    if (added.rows.length === 0) return assertSameCorrection(db, viewer, input);
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: now,
      actor: actorOf(viewer),
      action: "event.corrected",
      subjects: [
        ...(instead === null ? [] : await subjectsOf(db, plantId, "event", [instead.id])),
        ...(await subjectsOf(db, plantId, "event_correction", [input.id])),
      ],
      payload: {
        event: input.eventId,
        reason: input.reason,
        instead: instead === null ? null : { id: instead.id, kind: instead.kind, text: instead.text },
      },
    });
  });
}

const lineHead = lineColumns("line", ["id"]);

async function lineIdOf(viewer: Viewer, key: string): Promise<string> {
  const { rows } = await getPool().query<RowOf<typeof lineHead>>(
    sql`select ${lineHead} from line where plant_id = ${viewer.plantId} and key = ${key}`,
  );
  if (rows[0] === undefined) throw new AppError("not-found", words.noSuchLine(key));
  return rows[0].id;
}

/** @throws AppError invalid-input where the event is of another line */
async function assertOnLine(viewer: Viewer, eventId: string, key: string): Promise<void> {
  const lineId = await lineIdOf(viewer, key);
  const { rows } = await getPool().query<RowOf<typeof corrected>>(
    sql`select ${corrected} from event where plant_id = ${viewer.plantId} and id = ${eventId}`,
  );
  if (rows[0] !== undefined && rows[0].lineId !== lineId)
    throw new AppError("invalid-input", words.otherLine(key), {
      fields: [{ path: "line", message: "must be the line of the event that was wrong" }],
    });
}

/**
 * Records an event that a program sent, in the place of an earlier one where it says so.
 *
 * @throws AppError as addEvent and correctEvent do, not-found for a line, invalid-input for another line than the earlier one's
 */
export async function recordSentEvent(viewer: Viewer, input: SentEvent, now: Date = new Date()): Promise<void> {
  assertMay(viewer, "drift.add-event");
  const { line, instead, ...event } = input;
  if (instead !== undefined) {
    const { event: eventId, reason } = instead;
    if (line !== undefined) await assertOnLine(viewer, eventId, line);
    // The same event sent again makes the same correction.
    return correctEvent(viewer, { id: event.id, eventId, reason, instead: event }, now);
  }
  const lineId = line === undefined ? undefined : await lineIdOf(viewer, line);
  return addEvent(viewer, { ...event, ...(lineId === undefined ? {} : { lineId }) }, now);
}
