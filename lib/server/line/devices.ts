import "server-only";
import { AppError } from "@/lib/errors";
import type { ChangeDevice, RevokeDevice } from "@/lib/schemas/line";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import type pg from "pg";
import { getPool } from "../db/client";
import { deviceColumns } from "../db/columns/device";
import { lineColumns } from "../db/columns/line";
import { stationColumns } from "../db/columns/station";
import { type RowOf, orNull, together } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { forgetTokens } from "../auth/find-token-viewer";
import { forgetReferenceData } from "../evidence/reference-data";
import { appendJournal } from "../journal/append-journal";
import { LINE_WORDS } from "./words";

const words = LINE_WORDS.devices;

/** A device of a station, what it last said of its queue, and the frames that it has in hand; times ISO 8601. */
export type DeviceItem = {
  readonly id: string;
  readonly name: string;
  readonly station: string | null;
  readonly line: string | null;
  readonly since: string;
  readonly lastSeenAt: string | null;
  readonly revokedAt: string | null;
  /** Null where it never said anything of its queue. */
  readonly queue: {
    readonly waiting: number;
    readonly refused: number;
    /** When the oldest waiting entry was finished, by the device's clock corrected by its skew. */
    readonly oldestAt: string | null;
    readonly clockSkewMs: number | null;
    readonly batch: string | null;
    /** Frames whose result on the device was another than the server's: a fault of the program. */
    readonly differences: readonly string[];
  } | null;
  readonly frames: readonly { readonly serial: string; readonly batch: string; readonly since: string | null }[];
};

const listed = together(
  deviceColumns("d", ["id", "name", "createdAt", "lastSeenAt", "revokedAt", "queue"]),
  orNull(stationColumns("s", { station: "name" })),
  orNull(lineColumns("l", { line: "key" })),
);

type DeviceRow = RowOf<typeof listed> & {
  queue: {
    waiting: number;
    refused: number;
    oldestAt: number | null;
    clockSkewMs: number | null;
    batch?: string | null;
    differences?: string[];
  } | null;
  frames: { serial: string; batch: string; since: string | null }[];
};

/** A time of a device whose clock is out of this world is none. */
const isoOrNull = (ms: number): string | null =>
  Number.isNaN(new Date(ms).getTime()) ? null : new Date(ms).toISOString();

const MOST_DEVICES = 500;

/** Devices of the plant: those with something waiting first, then by station. */
export async function listDevices(viewer: Viewer): Promise<readonly DeviceItem[]> {
  assertMay(viewer, "line.view");
  const { rows } = await getPool().query<DeviceRow>(sql`
    select ${listed},
      coalesce((select json_agg(json_build_object('serial', f.serial, 'batch', b.key, 'since', f.leased_at) order by f.leased_at, f.serial)
        from frame f join batch b on b.plant_id = f.plant_id and b.id = f.batch_id
        where f.plant_id = d.plant_id and f.lease_device_id = d.id), '[]') as frames
    from device d
    left join station s on s.plant_id = d.plant_id and s.id = d.station_id
    left join line l on l.plant_id = s.plant_id and l.id = s.line_id
    where d.plant_id = ${viewer.plantId}
    order by d.revoked_at is not null, coalesce((d.queue ->> 'refused')::int, 0) + coalesce((d.queue ->> 'waiting')::int, 0) = 0,
      l.key, s.key, d.id limit ${MOST_DEVICES}`);
  return rows.map(({ createdAt, lastSeenAt, revokedAt, queue, frames, ...device }) => ({
    ...device,
    since: createdAt.toISOString(),
    lastSeenAt: lastSeenAt?.toISOString() ?? null,
    revokedAt: revokedAt?.toISOString() ?? null,
    queue:
      queue === null
        ? null
        : {
            waiting: queue.waiting,
            refused: queue.refused,
            oldestAt: queue.oldestAt === null ? null : isoOrNull(queue.oldestAt - (queue.clockSkewMs ?? 0)),
            clockSkewMs: queue.clockSkewMs,
            batch: queue.batch ?? null,
            differences: queue.differences ?? [],
          },
    frames: frames.map((frame) => ({
      ...frame,
      since: frame.since === null ? null : new Date(frame.since).toISOString(),
    })),
  }));
}

type DeviceChange = { readonly id: string; readonly action: string; readonly payload: unknown; readonly at: Date };

async function changeDevice(
  viewer: Viewer,
  { id, action, payload, at }: DeviceChange,
  write: (db: pg.ClientBase) => Promise<number>,
): Promise<void> {
  assertMay(viewer, "line.manage-devices");
  const { plantId } = viewer;
  await inSqlTransaction(async (db) => {
    if ((await write(db)) === 0) throw new AppError("not-found", words.isNoDevice(id));
    await appendJournal(db, { plantId, chain: "setup", at, actor: actorOf(viewer), action, subjects: [], payload });
  });
  forgetReferenceData(plantId);
  forgetTokens();
}

/**
 * Takes a device out of use: the server takes nothing more from it, nor by the sign-ins and tokens that it used. What is on it stays there and can be saved to a file; the
 * frames that it has in hand stay in hand until an engineer gives them up.
 *
 * @throws AppError forbidden, not-found
 */
export async function revokeDevice(
  viewer: Viewer,
  { id, reason }: RevokeDevice,
  now: Date = new Date(),
): Promise<void> {
  await changeDevice(viewer, { id, action: "device.revoked", payload: { id, reason }, at: now }, async (db) => {
    const { rowCount } = await db.query(sql`
      update device set revoked_at = coalesce(revoked_at, ${now}) where plant_id = ${viewer.plantId} and id = ${id}`);
    return rowCount ?? 0;
  });
}

/** Puts a device into use again. @throws AppError forbidden, not-found */
export async function restoreDevice(viewer: Viewer, id: string, now: Date = new Date()): Promise<void> {
  await changeDevice(viewer, { id, action: "device.restored", payload: { id }, at: now }, async (db) => {
    const { rowCount } = await db.query(sql`
      update device set revoked_at = null where plant_id = ${viewer.plantId} and id = ${id}`);
    return rowCount ?? 0;
  });
}

/** Gives a device the name that people call it by. @throws AppError forbidden, not-found */
export async function renameDevice(viewer: Viewer, input: ChangeDevice, now: Date = new Date()): Promise<void> {
  const { id, name } = input;
  await changeDevice(viewer, { id, action: "device.renamed", payload: input, at: now }, async (db) => {
    const { rowCount } = await db.query(sql`
      update device set name = ${name} where plant_id = ${viewer.plantId} and id = ${id}`);
    return rowCount ?? 0;
  });
}
