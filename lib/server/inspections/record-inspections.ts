import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { CORE_VERSION } from "@/lib/core/version";
import type { RecordInspection } from "@/lib/schemas/inspection";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { JudgedCharacteristic } from "@/lib/quality/judge-frame";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { evaluateStreams } from "../streams/evaluate-streams";
import { checkInspection, type CheckedInspection } from "./check-inspection";
import { placeInspection, type FrameNow, type PlacedInspection } from "./place-inspection";
import { readEarlier, readKnown, lockFrames, lookAlikes } from "./recording-reads";
import { inspectionRow, writeRecording } from "./recording-writes";
import { judgeInspection, type Judged } from "./judge-together";
import { getReferenceData, type ReferenceData } from "./reference-data";

export type InspectionRecorded = {
  readonly id: string;
  readonly serial: string;
  /** "repeated": the same inspection was here already, nothing was written. */
  readonly status: "recorded" | "repeated";
  readonly ordinal: number;
  readonly verdict: Verdict;
  /** Verdict of all valid inspections of the frame together. */
  readonly frameVerdict: Verdict;
  readonly frameState: string;
  readonly held: boolean;
  readonly batch: string;
  readonly batchHeld: boolean;
  /** Characteristics that do not conform, judged on all valid inspections together. */
  readonly reasons: readonly JudgedCharacteristic[];
  readonly signals: number;
  readonly warnings: readonly string[];
};

export type InspectionRefused = {
  readonly id: string;
  readonly serial: string;
  readonly status: "refused";
  readonly error: AppError;
};

export type RecordingOutcome = InspectionRecorded | InspectionRefused;

/** A checked inspection with its own verdict, computed before the transaction. */
export type JudgedInspection = CheckedInspection & Judged & { readonly at: number };

const refusal = (input: RecordInspection, error: AppError): InspectionRefused => ({
  id: input.id,
  serial: input.serial,
  status: "refused",
  error,
});

function asAppError(error: unknown): AppError {
  if (error instanceof AppError) return error;
  throw error;
}

type Context = { readonly viewer: Viewer; readonly reference: ReferenceData; readonly now: Date };

/** Records the inspections of one line in one transaction, in the order of their corrected times. */
async function recordOnLine(
  db: pg.PoolClient,
  context: Context,
  lineKey: string,
  items: readonly JudgedInspection[],
): Promise<Map<number, RecordingOutcome>> {
  const { viewer, reference, now } = context;
  const { plantId } = viewer;
  const head = await lockChain(db, plantId, `line:${lineKey}`);
  const frames = await lockFrames(
    db,
    plantId,
    items.map((item) => item.input.serial),
  );
  const known = await readKnown(
    db,
    plantId,
    items.map((item) => item.input.id),
  );
  const again = [...frames.values()].filter((frame) => frame.inspections > 0);
  const earlier = again.length === 0 ? new Map() : await readEarlier(db, plantId, again, reference);

  const outcomes = new Map<number, RecordingOutcome>();
  const placed: PlacedInspection[] = [];
  const current = new Map<string, FrameNow>(frames);
  for (const item of items) {
    try {
      const result = placeInspection(item, current.get(item.input.serial), known.get(item.input.id), earlier, now);
      if (result.kind === "repeated") outcomes.set(item.at, result.outcome);
      else {
        placed.push(result);
        current.set(item.input.serial, result.frame);
        known.set(item.input.id, {
          contentHash: item.contentHash,
          serial: item.input.serial,
          verdict: item.judgement.verdict,
        });
      }
    } catch (error) {
      const refused = asAppError(error);
      outcomes.set(
        item.at,
        refusal(
          item.input,
          refused.code === "not-found" ? await lookAlikes(db, plantId, item.input.serial, refused) : refused,
        ),
      );
    }
  }
  if (placed.length === 0) return outcomes;

  const rows = placed.map((one) => inspectionRow(viewer, one, now, CORE_VERSION));
  await writeRecording(db, plantId, placed, rows, now);
  const signals = await evaluateStreams(db, plantId, placed, now);
  await appendToLockedChain(db, head, {
    plantId,
    chain: `line:${lineKey}`,
    at: now,
    actor: actorOf(viewer),
    action: "inspections.recorded",
    subjects: rows.map(({ id, hash }) => ({ table: "inspection", id, hash })),
    payload: { frames: placed.map((one) => [one.item.input.serial, one.item.judgement.verdict, one.frame.state]) },
  });
  for (const one of placed)
    outcomes.set(one.item.at, {
      id: one.item.input.id,
      serial: one.item.input.serial,
      status: "recorded",
      ordinal: one.ordinal,
      verdict: one.item.judgement.verdict,
      frameVerdict: one.together.judgement.verdict,
      frameState: one.frame.state,
      held: one.frame.state === "held",
      batch: one.frame.batchKey,
      batchHeld: one.frame.batchHeld || one.holds,
      reasons: one.reasons,
      signals: signals.get(one.item.input.id) ?? 0,
      warnings: [...one.item.warnings, ...one.warnings],
    });
  return outcomes;
}

/** Two lines can be sent the same key at once: the second finds the first one's row when it tries again. */
async function recordWithRetry(
  context: Context,
  lineKey: string,
  items: readonly JudgedInspection[],
): Promise<Map<number, RecordingOutcome>> {
  const run = () => inSqlTransaction((db) => recordOnLine(db, context, lineKey, items));
  try {
    return await run();
  } catch (error) {
    if (readDatabaseRefusal(error)?.kind !== "unique") throw error;
    return run();
  }
}

/**
 * Records finished inspections: checks, computes features and verdict, stores one row each, moves the frame, holds frame and
 * batch by policy, evaluates the streams they touch, writes journal and outbox. One transaction a line; sending the same
 * inspection again changes nothing. The good ones are recorded whatever happens to the others.
 *
 * @param inputs - parsed by recordInspectionSchema, any order, any lines of the plant
 * @returns one outcome an input, in the order of the inputs
 * @throws AppError forbidden
 */
export async function recordInspections(
  viewer: Viewer,
  inputs: readonly RecordInspection[],
  options: { readonly now?: Date } = {},
): Promise<readonly RecordingOutcome[]> {
  assertMay(viewer, "line.inspect");
  const now = options.now ?? new Date();
  const reference = await getReferenceData(viewer.plantId);
  const outcomes: RecordingOutcome[] = [];
  const byLine = new Map<string, JudgedInspection[]>();
  inputs.forEach((input, at) => {
    try {
      const checked = checkInspection(input, reference, now);
      const judged = judgeInspection({ plan: checked.plan, readings: input.readings });
      const line = byLine.get(checked.station.lineKey) ?? [];
      line.push({ ...checked, ...judged, at });
      byLine.set(checked.station.lineKey, line);
    } catch (error) {
      outcomes[at] = refusal(input, asAppError(error));
    }
  });
  for (const [lineKey, items] of byLine) {
    items.sort((a, b) => a.measuredAt.getTime() - b.measuredAt.getTime() || a.at - b.at);
    const recorded = await recordWithRetry({ viewer, reference, now }, lineKey, items);
    for (const [at, outcome] of recorded) outcomes[at] = outcome;
  }
  return outcomes;
}

/** Records one inspection; a refusal is thrown. */
export async function recordInspection(viewer: Viewer, input: RecordInspection): Promise<InspectionRecorded> {
  const [outcome] = await recordInspections(viewer, [input]);
  if (outcome === undefined) throw new AppError("unexpected", "The inspection was neither recorded nor refused.");
  if (outcome.status === "refused") throw outcome.error;
  return outcome;
}
