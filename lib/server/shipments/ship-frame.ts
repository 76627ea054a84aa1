import "server-only";
import { AppError } from "@/lib/errors";
import { formatMoment } from "@/lib/format/date-text";
import { FRAME_ACTS, stateAfterShipping, type FrameState } from "@/lib/quality/frame-state";
import { type ToldShipAnswer, toldShipAnswer, type ToldShipReason } from "@/lib/format/ship-words";
import { shipAnswer } from "@/lib/quality/ship-answer";
import type { ShipFrame } from "@/lib/schemas/shipment";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { readDatabaseRefusal } from "../db/prisma-errors";
import { batchColumns } from "../db/columns/batch";
import { type RowOf, orNull } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { canonicalJson } from "../journal/canonical-json";
import { appendJournal } from "../journal/append-journal";
import { rowHash } from "../journal/vouched-rows";
import { findLikeFrames, type LikeFrames } from "./like-frames";
import { readGateFrame, type GateFrame } from "../gate/read-gate-frame";
import { readCapabilityFor } from "../gate/sampled-capability";
import { SHIPMENTS_WORDS } from "./words";

const words = SHIPMENTS_WORDS.shipFrame;

export type FrameEnquiry = ToldShipAnswer & {
  readonly serial: string;
  readonly batch: string | null;
  readonly state: FrameState | null;
  readonly verdict: string | null;
  readonly at: string;
};

export type ShipmentAnswer = {
  readonly id: string;
  readonly serial: string;
  readonly answer: "shipped" | "refused";
  readonly reasons: readonly ToldShipReason[];
  readonly batch: string | null;
  readonly at: string;
};

function answerTo(
  { plantZone }: Viewer,
  serial: string,
  found: GateFrame | null,
  now: Date,
  near: readonly string[] = [],
): ToldShipAnswer {
  const say = (time: Date) => formatMoment(time, { zone: plantZone });
  return toldShipAnswer(shipAnswer(serial, found?.frame ?? null, found?.batch ?? null, now, near), say);
}

/** May this frame ship? Changes nothing. An unknown serial is an answer (stop), no error; capitals do not matter. */
export async function enquireFrame(viewer: Viewer, serial: string, now: Date = new Date()): Promise<FrameEnquiry> {
  assertMay(viewer, "gate.enquire");
  const { plantId } = viewer;
  const capability = await readCapabilityFor(plantId, serial);
  const found = await readGateFrame(getPool(), plantId, serial, { lock: false, capability });
  const like = found === null ? await findLikeFrames(getPool(), plantId, serial) : NOTHING_LIKE;
  if (like.same !== null) return enquireFrame(viewer, like.same, now);
  return {
    serial,
    ...answerTo(viewer, serial, found, now, like.near),
    batch: found?.batch.key ?? null,
    state: found?.frame.state ?? null,
    verdict: found?.frame.verdict ?? null,
    at: now.toISOString(),
  };
}

const NOTHING_LIKE: LikeFrames = { same: null, near: [] };

const batchOfFrame = orNull(batchColumns("b", { batch: "key" }));

type ShipmentRow = RowOf<typeof batchOfFrame> & {
  serial: string;
  answer: "shipped" | "refused";
  reasons: ToldShipReason[];
  at: Date;
};

async function findShipment(plantId: string, id: string): Promise<ShipmentRow | null> {
  const { rows } = await getPool().query<ShipmentRow>(sql`
    select s.serial, s.answer, s.reasons, s.at, ${batchOfFrame} from shipment s
    left join frame f on f.plant_id = s.plant_id and f.id = s.frame_id
    left join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    where s.plant_id = ${plantId} and s.id = ${id}`);
  return rows[0] ?? null;
}

async function answerOfBefore(plantId: string, { id, serial }: ShipFrame): Promise<ShipmentAnswer | null> {
  const before = await findShipment(plantId, id);
  if (!before) return null;
  // A scan in other capitals was kept under the frame's own serial.
  if (before.serial.toLowerCase() !== serial.toLowerCase())
    throw new AppError("conflict", words.keyWasUsedForFrame(id, before.serial));
  return { id, ...before, at: before.at.toISOString() };
}

/**
 * Ships one frame, or refuses with every reason; both are recorded. The answer is decided while frame and batch are locked,
 * so that no race, retry or stale screen ships what may not go. The same request sent again gets the same answer.
 *
 * @throws AppError forbidden; conflict when the key was used for another serial
 */
export async function shipFrame(viewer: Viewer, request: ShipFrame, now: Date = new Date()): Promise<ShipmentAnswer> {
  assertMay(viewer, FRAME_ACTS.ship.may);
  const { plantId } = viewer;
  const before = await answerOfBefore(plantId, request);
  if (before) return before;
  try {
    const decided = await decideShipment(viewer, request, now);
    return "same" in decided ? await shipFrame(viewer, { ...request, serial: decided.same }, now) : decided;
  } catch (error) {
    // The same scan sent twice at once: the other one was first.
    const first = readDatabaseRefusal(error)?.kind === "unique" ? await answerOfBefore(plantId, request) : null;
    if (first) return first;
    throw error;
  }
}

/** The answer, or the one serial that differs in capitals only: then nothing is decided yet. */
async function decideShipment(
  viewer: Viewer,
  request: ShipFrame,
  now: Date,
): Promise<ShipmentAnswer | { readonly same: string }> {
  const { plantId } = viewer;
  const { id, serial } = request;
  const capability = await readCapabilityFor(plantId, serial);
  return inSqlTransaction(async (db) => {
    const found = await readGateFrame(db, plantId, serial, { lock: true, capability });
    const like = found === null ? await findLikeFrames(db, plantId, serial) : NOTHING_LIKE;
    if (like.same !== null) return { same: like.same };
    const { answer, reasons } = answerTo(viewer, serial, found, now, like.near);
    const ships = answer === "go" && found !== null;
    const row = {
      plant_id: plantId,
      id,
      frame_id: found?.id ?? null,
      serial,
      answer: ships ? "shipped" : "refused",
      reasons,
      person_id: viewer.kind === "person" ? viewer.personId : null,
      token_id: viewer.kind === "token" ? viewer.tokenId : null,
      at: now,
    } as const;
    if (ships)
      await db.query(sql`
        update frame set state = ${stateAfterShipping(found.frame.state)}::"FrameState", shipped_at = ${now}, version = version + 1
        where plant_id = ${plantId} and id = ${found.id}`);
    await db.query(sql`
      insert into shipment (plant_id, id, frame_id, serial, answer, reasons, person_id, token_id, at)
      values (${plantId}, ${id}, ${row.frame_id}, ${serial}, ${row.answer}, ${canonicalJson(reasons)}::jsonb,
        ${row.person_id}, ${row.token_id}, ${now})`);
    await appendJournal(db, {
      plantId,
      chain: "gate",
      at: now,
      actor: actorOf(viewer),
      action: ships ? "frame.shipped" : "frame.refused",
      subjects: [{ table: "shipment", id, hash: rowHash("shipment", row) }],
      payload: { serial, reasons: reasons.map((one) => one.code) },
    });
    return { id, serial, answer: row.answer, reasons, batch: found?.batch.key ?? null, at: now.toISOString() };
  });
}
