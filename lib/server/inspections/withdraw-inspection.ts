import "server-only";
import type pg from "pg";
import { AppError } from "@/lib/errors";
import { assertMay, assertPerson } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendToLockedChain, lockChain } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { rowHash } from "../journal/vouched-rows";
import { evaluateGroup } from "../streams/evaluate-streams";
import { judgeOperations } from "./judge-together";
import { readEarlier } from "./recording-reads";
import { getReferenceData, withGaugesAsNow } from "./reference-data";

type Withdrawn = {
  readonly frameId: string;
  readonly serial: string;
  readonly state: string;
  readonly inspectorId: string | null;
  readonly lineId: string;
  readonly lineKey: string;
  readonly operationId: string;
  readonly drawingId: string;
  readonly measuredAt: Date;
  readonly evidenceFrom: Date | null;
};

async function findInspection(db: pg.ClientBase | pg.Pool, plantId: string, id: string): Promise<Withdrawn | null> {
  const { rows } = await db.query<Withdrawn>(sql`
    select i.frame_id as "frameId", f.serial, f.state::text as state, i.inspector_id as "inspectorId", i.line_id as "lineId",
      l.key as "lineKey", i.operation_id as "operationId", i.drawing_id as "drawingId", i.measured_at as "measuredAt", f.evidence_from as "evidenceFrom"
    from inspection i
    join frame f on f.plant_id = i.plant_id and f.id = i.frame_id
    join line l on l.plant_id = i.plant_id and l.id = i.line_id
    where i.plant_id = ${plantId} and i.id = ${id}
      and not exists (select 1 from inspection_withdrawal w where w.plant_id = i.plant_id and w.inspection_id = i.id)`);
  return rows[0] ?? null;
}

/** State of a frame after one of its inspections is gone: what is left decides; a frame that left the plant stays gone. */
function stateAfter(state: string, left: { readonly holds: boolean } | null): string {
  if (!["measured", "held", "in_measurement", "unmeasured"].includes(state)) return state;
  if (left === null) return "unmeasured";
  return left.holds ? "held" : "measured";
}

/**
 * Withdraws an inspection: the row stays, a new record with the reason takes it out of the verdict, the count and the charts.
 * Nobody withdraws an inspection of their own.
 *
 * @throws AppError forbidden, not-found, refused
 */
export async function withdrawInspection(
  viewer: Viewer,
  request: { readonly id: string; readonly reason: string },
  now: Date = new Date(),
): Promise<{ readonly serial: string; readonly frameState: string }> {
  assertMay(viewer, "line.withdraw");
  assertPerson(viewer);
  const { plantId, personId } = viewer;
  const remembered = await getReferenceData(plantId);
  return inSqlTransaction(async (db) => {
    const found = await findInspection(db, plantId, request.id);
    if (!found)
      throw new AppError("not-found", "There is no such inspection, or it was withdrawn before. Nothing was changed.");
    if (found.inspectorId === personId)
      throw new AppError("refused", "You made this inspection: somebody else has to withdraw it. Nothing was changed.");
    const chain = `line:${found.lineKey}`;
    const head = await lockChain(db, plantId, chain);
    await db.query(sql`select 1 from frame where plant_id = ${plantId} and id = ${found.frameId} for update`);
    const row = { plant_id: plantId, inspection_id: request.id, person_id: personId, reason: request.reason, at: now };
    await db.query(sql`
      insert into inspection_withdrawal (plant_id, inspection_id, person_id, reason, at)
      values (${plantId}, ${request.id}, ${personId}, ${request.reason}, ${now})`);
    const reference = await withGaugesAsNow(db, plantId, remembered);
    const left = (await readEarlier(db, plantId, [{ id: found.frameId }], reference)).get(found.frameId) ?? [];
    const { evidenceFrom } = found;
    const evidence = judgeOperations(left.filter((one) => evidenceFrom === null || one.measuredAt > evidenceFrom));
    const frameState = stateAfter(found.state, evidence);
    await db.query(sql`
      update frame set state = ${frameState}::"FrameState", verdict = ${evidence?.verdict ?? null},
        judgement = ${canonicalJson(evidence?.reasons ?? [])}::jsonb, inspections = ${left.length}, version = version + 1
      where plant_id = ${plantId} and id = ${found.frameId}`);
    const { lineId, operationId, drawingId, measuredAt } = found;
    const stretch = { from: measuredAt, to: measuredAt };
    await evaluateGroup(db, plantId, { lineId, operationId, drawingId }, stretch, { points: [] }, now);
    await appendToLockedChain(db, head, {
      plantId,
      chain,
      at: now,
      actor: actorOf(viewer),
      action: "inspection.withdrawn",
      subjects: [{ table: "inspection_withdrawal", id: request.id, hash: rowHash("inspection_withdrawal", row) }],
      payload: { serial: found.serial, reason: request.reason },
    });
    return { serial: found.serial, frameState };
  });
}
