import "server-only";
import { isDeepStrictEqual } from "node:util";
import type pg from "pg";
import { isCalibrated } from "@/lib/core/metrology/calibration-in-force";
import { suspectParts, suspectSpanAt } from "@/lib/core/metrology/comparator";
import { uuidV7 } from "@/lib/schemas/identifier";
import type { AddCalibration } from "@/lib/schemas/gauge";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { momentDone } from "../base/moment";
import {
  forgetReferenceData,
  getReferenceData,
  withGaugesAsNow,
  type GaugeReference,
} from "../evidence/reference-data";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { subjectsOf } from "../journal/row-hashes";
import { idOf } from "../plant/change-setup";
import { judgeAgain, type JudgedAgain } from "../evidence/judge-again";
import { lockLines } from "../evidence/lock-lines";
import { readRestingInspections, type RestingInspection } from "../evidence/resting-frames";
import { GAUGES_CHAIN } from "../evidence/suspect-spans";

export type CalibrationAdded = {
  readonly id: string;
  /** Frames that hold by it, and shipped ones that are in question. */
  readonly held: number;
  readonly escapes: number;
};

/** What is doubted of the zero of a gauge while some readings were taken: two of the same are doubted alike. */
function zeroDoubtOf(gauge: GaugeReference | undefined, { firstAt, lastAt }: RestingInspection) {
  const parts = suspectParts(gauge?.suspect ?? [], firstAt.getTime(), lastAt.getTime());
  return { parts, unchecked: gauge?.isComparator === true && firstAt.getTime() < (gauge.firstGoodMs ?? Infinity) };
}

/** From when on the calibration may say otherwise of a zero than was believed: the failed check before it, or the check after. */
function fromWhen(before: GaugeReference | undefined, at: Date): Date | null {
  const span = suspectSpanAt(before?.suspect ?? [], at.getTime());
  return span === null ? new Date(at.getTime() - 1) : span.afterMs === null ? null : new Date(span.afterMs);
}

/** Judges again what the gauge measured where calibrations and zero now say otherwise than before. */
async function reassess(
  db: pg.ClientBase,
  viewer: Viewer,
  gauge: string,
  { at, before, now }: { readonly at: Date; readonly before: GaugeReference | undefined; readonly now: Date },
): Promise<JudgedAgain> {
  const { plantId } = viewer;
  const reference = await withGaugesAsNow(db, plantId, await getReferenceData(plantId));
  const known = reference.gauges.get(gauge);
  const [old, after] = [before?.calibrations ?? [], known?.calibrations ?? []];
  // It decides from its own moment, which is still in, until the next one; of the zero until the next check.
  const nextMs = old.findLast(({ atMs }) => atMs > at.getTime())?.atMs;
  const stretch = { after: fromWhen(before, at), until: nextMs === undefined ? null : new Date(nextMs) };
  const changed = (await readRestingInspections(db, plantId, gauge, stretch)).filter((one) => {
    const ms = one.measuredAt.getTime();
    return (
      isCalibrated(old, ms) !== isCalibrated(after, ms) ||
      !isDeepStrictEqual(zeroDoubtOf(before, one), zeroDoubtOf(known, one))
    );
  });
  const unproven = changed.filter(({ measuredAt }) => !isCalibrated(after, measuredAt.getTime()));
  return judgeAgain(db, plantId, [...new Set(changed.map(({ frameId }) => frameId))], {
    reference,
    why: `gauge ${gauge} was out of calibration when it was measured`,
    holding: new Set(unproven.map(({ frameId }) => frameId)),
    mayFree: true,
    now,
  });
}

/**
 * Enters a calibration of a gauge. From its moment on it decides what the gauge proves, until it is due or the next one is done;
 * earlier ones stay on record. Where it says otherwise of readings that are there than what was believed, their frames are judged
 * again: held, with an escape for each that has shipped, or free again where nothing else is against them.
 *
 * @throws AppError forbidden, not-found, invalid-input (a calibration in the future)
 */
export async function addCalibration(
  viewer: Viewer,
  input: AddCalibration,
  now: Date = new Date(),
): Promise<CalibrationAdded> {
  assertMay(viewer, "gauges.manage");
  const { plantId } = viewer;
  const at = new Date(input.at);
  const zone = viewer.plantZone;
  momentDone(at, now, { of: "calibration", kept: "Nothing was changed.", path: "at", zone });
  const added = await inSqlTransaction(async (db) => {
    const head = await lockChain(db, plantId, GAUGES_CHAIN);
    const gaugeId = await idOf(db, plantId, "gauge", input.gauge);
    await lockLines(db, plantId);
    const remembered = await withGaugesAsNow(db, plantId, await getReferenceData(plantId));
    const before = remembered.gauges.get(input.gauge);
    const id = uuidV7(now.getTime());
    await db.query(sql`
      insert into calibration (plant_id, id, gauge_id, at, due_at, bias_um, certificate)
      values (${plantId}, ${id}, ${gaugeId}, ${at}, ${new Date(input.dueAt)}, ${input.biasUm},
        ${input.certificate === "" ? null : input.certificate})`);
    const change = await reassess(db, viewer, input.gauge, { at, before, now });
    const { held, escaped, batchesHeld } = change;
    await appendToLockedChain(db, head, {
      plantId,
      chain: GAUGES_CHAIN,
      at: now,
      actor: actorOf(viewer),
      action: "calibration.added",
      subjects: await subjectsOf(db, plantId, "calibration", [id]),
      payload: { ...input, heldSerials: held, escapedSerials: escaped, batchesHeld },
    });
    return { id, held: held.length, escapes: escaped.length };
  });
  forgetReferenceData(plantId);
  return added;
}
