import "server-only";
import { AppError } from "@/lib/errors";
import { FRAME_ACTS, mayMove, stateAfterGivingUp, stateAfterStart, type FrameState } from "@/lib/quality/frame-state";
import type { OtherLine } from "@/lib/schemas/station-package";
import type pg from "pg";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { deviceColumns } from "../db/columns/device";
import { lineColumns } from "../db/columns/line";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { assertTokenDevice, tieToDevice } from "../auth/device-tie";
import { inspectionsHere } from "../line/inspections-here";
import { lockFrames, lookAlikes } from "./recording-reads";
import { assertDeviceInUse } from "../evidence/reference-data";
import { INSPECTIONS_WORDS } from "./words";

const words = INSPECTIONS_WORDS.leaseFrame;

export type FrameLease = {
  readonly serial: string;
  readonly batch: string;
  readonly drawingId: string;
  readonly state: FrameState;
  /** Earlier valid inspections, at the operation of the station where one was named: a reason is needed to measure again. */
  readonly inspections: number;
  /** Only where the frame is of another line than the station that was named: which, and the plan of its batch, if it has one. */
  readonly otherLine?: OtherLine;
};

export type LeaseRequest = {
  readonly serial: string;
  readonly deviceId: string;
  readonly batch?: string | undefined;
  readonly stationId?: string | undefined;
};

const lineOfBatch = lineColumns("l", { line: "key" });
const named = deviceColumns("device", ["name"]);
const identified = deviceColumns("device", ["id"]);

async function readOtherLine(
  db: pg.ClientBase,
  plantId: string,
  { frameId, stationId }: { readonly frameId: string; readonly stationId: string },
): Promise<OtherLine | null> {
  const { rows } = await db.query<RowOf<typeof lineOfBatch> & Pick<OtherLine, "plan">>(sql`
    select ${lineOfBatch}, (
        select json_build_object('planRevisionId', r.id, 'planId', p.id, 'planKey', p.key, 'title', p.title, 'revision', r.revision,
          'drawingId', p.drawing_id, 'drawing', d.content, 'readingNames', r.reading_names, 'frames', r.frames, 'settings', r.settings)
        from measuring_plan_revision r
        join measuring_plan p on p.plant_id = r.plant_id and p.id = r.plan_id
        join drawing_revision d on d.plant_id = r.plant_id and d.id = r.drawing_revision_id
        where r.plant_id = b.plant_id and r.plan_id = b.plan_id and r.state = 'released' order by r.released_at desc limit 1) as plan
    from frame f
    join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
    join line l on l.plant_id = b.plant_id and l.id = b.line_id
    join station s on s.plant_id = f.plant_id and s.id = ${stationId} and s.line_id <> b.line_id
    where f.plant_id = ${plantId} and f.id = ${frameId}`);
  return rows[0] ?? null;
}

async function countHere(
  db: pg.ClientBase,
  plantId: string,
  { frameId, stationId }: { readonly frameId: string; readonly stationId: string },
): Promise<number> {
  const { rows } = await db.query<{ here: number }>(sql`
    select ${inspectionsHere(plantId, stationId)} as here from frame f where f.plant_id = ${plantId} and f.id = ${frameId}`);
  return rows[0]?.here ?? 0;
}

/** What people call a device. */
async function deviceName(db: pg.ClientBase, plantId: string, id: string): Promise<string> {
  const { rows } = await db.query<RowOf<typeof named>>(sql`
    select ${named} from device where plant_id = ${plantId} and id = ${id}`);
  return rows[0]?.name ?? id;
}

/**
 * Starts measuring a frame on a device: until its readings arrive, or the lease is given up, the frame is in measurement and
 * cannot ship. Starting it again on the same device changes nothing.
 *
 * @throws AppError not-found, wrong-batch, frame-leased, already-shipped, refused (a device taken out of use)
 */
export async function startFrame(viewer: Viewer, request: LeaseRequest, now: Date = new Date()): Promise<FrameLease> {
  assertMay(viewer, FRAME_ACTS.start.may);
  assertTokenDevice(viewer, request.deviceId);
  await tieToDevice(viewer, request.deviceId);
  const { plantId } = viewer;
  return inSqlTransaction(async (db) => {
    const revoked = await db.query<RowOf<typeof identified>>(sql`
      select ${identified} from device where plant_id = ${plantId} and id = ${request.deviceId} and revoked_at is not null`);
    assertDeviceInUse(request.deviceId, { revokedDevices: new Set(revoked.rows.map(({ id }) => id)) });
    const frame = (await lockFrames(db, plantId, [request.serial])).get(request.serial);
    if (!frame)
      throw await lookAlikes(
        db,
        plantId,
        request.serial,
        new AppError("not-found", words.noFrameHasSerial(request.serial)),
      );
    if (request.batch !== undefined && request.batch !== frame.batchKey)
      throw new AppError("wrong-batch", words.frameBelongsToBatch(frame.serial, frame.batchKey, request.batch), {
        details: { batch: frame.batchKey },
      });
    if (!mayMove("start", frame.state)) throw new AppError("already-shipped", words.frameShippedAlready(frame.serial));
    if (frame.leaseDeviceId !== null && frame.leaseDeviceId !== request.deviceId)
      throw new AppError(
        "frame-leased",
        words.frameIsBeingMeasuredOn(frame.serial, await deviceName(db, plantId, frame.leaseDeviceId)),
        { details: { device: frame.leaseDeviceId } },
      );
    const state = stateAfterStart(frame.state);
    if (frame.leaseDeviceId === null)
      await db.query(sql`
        update frame set lease_device_id = ${request.deviceId}, leased_at = ${now}, version = version + 1,
          state = ${state}::"FrameState"
        where plant_id = ${plantId} and id = ${frame.id}`);
    const { serial, batchKey, drawingId } = frame;
    const inspections =
      request.stationId === undefined
        ? frame.inspections
        : await countHere(db, plantId, { frameId: frame.id, stationId: request.stationId });
    const otherLine =
      request.stationId === undefined
        ? null
        : await readOtherLine(db, plantId, { frameId: frame.id, stationId: request.stationId });
    return {
      serial,
      batch: batchKey,
      drawingId,
      state,
      inspections,
      ...(otherLine === null ? {} : { otherLine }),
    };
  });
}

/**
 * Gives up a started measurement: by the device itself, which has to be more than named, or by an engineer with a reason, which
 * stands in the journal, when the device is lost.
 *
 * @throws AppError not-found, forbidden, invalid-input
 */
export async function giveUpFrame(
  viewer: Viewer,
  request: { readonly serial: string; readonly deviceId?: string | undefined; readonly reason?: string | undefined },
  now: Date = new Date(),
): Promise<void> {
  assertMay(viewer, FRAME_ACTS.give_up.may);
  const { plantId } = viewer;
  const isDevice = request.deviceId !== undefined && (await tieToDevice(viewer, request.deviceId));
  await inSqlTransaction(async (db) => {
    const frame = (await lockFrames(db, plantId, [request.serial])).get(request.serial);
    if (!frame) throw new AppError("not-found", words.noFrameHasSerialSerial(request.serial));
    if (frame.leaseDeviceId === null) return;
    const foreign = frame.leaseDeviceId !== request.deviceId || !isDevice;
    if (foreign) assertMay(viewer, "line.withdraw");
    if (foreign && !request.reason)
      throw new AppError("invalid-input", words.sayWhyMeasurement(frame.leaseDeviceId), {
        fields: [{ path: "reason", message: words.mustBeGiven }],
      });
    await db.query(sql`
      update frame set lease_device_id = null, leased_at = null, version = version + 1,
        state = ${stateAfterGivingUp(frame.state)}::"FrameState"
      where plant_id = ${plantId} and id = ${frame.id}`);
    if (foreign)
      await appendJournal(db, {
        plantId,
        chain: "gate",
        at: now,
        actor: actorOf(viewer),
        action: "frame.measurement-given-up",
        subjects: [],
        payload: { serial: frame.serial, device: frame.leaseDeviceId, reason: request.reason },
      });
  });
}
