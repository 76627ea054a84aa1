import "server-only";
import { randomUUID } from "node:crypto";
import { CoreError } from "../../core/errors";
import { AppError } from "../../errors";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { log } from "../base/log";
import { noteTrouble } from "./trouble";
import { DOORS_WORDS } from "./words";

const texts = DOORS_WORDS.failure;

/** A failure as the person or program is told of it. */
export type Failure = { readonly error: AppError; readonly eventId?: string };

const AWAY =
  "The database does not answer, or not in time. Try again in a moment: the same thing sent again under the same key is kept once.";
const BUSY =
  "Somebody else's recording does not finish and holds this one up. Nothing of it was stored; try again in a moment: the same thing sent again under the same key is kept once.";
const FULL =
  "The server has no room left to write. Nothing of this was stored and nothing that was stored is lost: have room made on the disk of the database, then send it again.";
const UNSTORABLE =
  "A value cannot be stored: a text holds the character U+0000, or a number is out of range. Nothing was changed.";

function unexpected(error: unknown, context: Readonly<Record<string, unknown>>): Failure {
  const eventId = randomUUID();
  log.error("unexpected error", { eventId, ...context, error });
  const words = texts.somethingUnexpectedHappened(eventId);
  return { error: new AppError("unexpected", words), eventId };
}

/**
 * Turns whatever a handler threw into what may be told: an AppError as it is, a CoreError as invalid-input, a database
 * that is away or held up as unavailable, one without room as storage-full. Everything else is logged here, once, and told only by the number of its log line.
 */
export function failureOf(error: unknown, context: Readonly<Record<string, unknown>>): Failure {
  if (error instanceof AppError) return { error };
  if (error instanceof CoreError) {
    return { error: new AppError("invalid-input", texts.nothingWasChanged(error.message), { cause: error }) };
  }
  const refusal = readDatabaseRefusal(error);
  noteTrouble(error);
  if (refusal?.kind === "unreachable") {
    log.warn("the database does not answer", { ...context, error });
    return { error: new AppError("unavailable", AWAY, { cause: error }) };
  }
  if (refusal?.kind === "busy") {
    log.warn("a lock was not let go in time", { ...context, error });
    return { error: new AppError("unavailable", BUSY, { cause: error, details: { retryAfterSeconds: 2 } }) };
  }
  if (refusal?.kind === "full") {
    log.error("no room is left to write", { ...context, error });
    return { error: new AppError("storage-full", FULL, { cause: error }) };
  }
  if (refusal?.kind === "data") {
    // Input that a schema should have stopped: answered as such, and logged so that the schema learns it.
    log.warn("the database refused a value", { ...context, error });
    return { error: new AppError("invalid-input", UNSTORABLE, { cause: error }) };
  }
  if (refusal?.kind === "conflict") {
    return {
      error: new AppError("conflict", texts.somebodyElseWasWritingSame, {
        cause: error,
      }),
    };
  }
  return unexpected(error, context);
}
