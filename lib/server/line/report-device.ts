import "server-only";
import { AppError } from "@/lib/errors";
import type { ReportDevice } from "@/lib/schemas/line";
import type { BatchHolder } from "@/lib/schemas/station-package";
import { assertMay, mayDo } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { deviceColumns } from "../db/columns/device";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { BATCH_LEASE_MINUTES, batchHolders } from "./batch-lease";
import { tieToDevice } from "../auth/device-tie";
import { whyStationClosed } from "./station-in-use";
import { LINE_WORDS } from "./words";

const words = LINE_WORDS.reportDevice;

export type DeviceReport = {
  /** What people call it. */
  readonly name: string;
  /** The server's clock, milliseconds since 1970. */
  readonly serverTime: number;
  /** Why its station takes nothing; null while that is in use. */
  readonly stationClosed: string | null;
  /** Other devices that have the same batch in hand. */
  readonly batchElsewhere: readonly BatchHolder[];
};

const reported = deviceColumns("device", ["name"]);

/**
 * What a device at a station says of itself: that it is there, how many inspections wait on it and since when, and how far
 * its clock is off. The engineer reads it. The batch that it has in hand is leased to it from the first report on, until it
 * takes another one or is silent for 15 minutes; others who take the batch are told.
 *
 * @throws AppError forbidden; refused when the device was revoked
 */
export async function reportDevice(
  viewer: Viewer,
  report: ReportDevice,
  now: Date = new Date(),
): Promise<DeviceReport> {
  // First of all: a new sign-in on a device out of use is out, too.
  if (mayDo(viewer, "line.lease")) await tieToDevice(viewer, report.deviceId);
  assertMay(viewer, "line.lease");
  const { batch = null } = report;
  const queue = JSON.stringify({
    waiting: report.waiting,
    refused: report.refused,
    oldestAt: report.oldestAt,
    clockSkewMs: report.clockSkewMs,
    batch,
    batchSince: batch === null ? null : now.toISOString(),
    differences: report.differences ?? [],
  });
  // A device that nobody named is told from the others of its station by its number.
  const { rows } = await getPool().query<RowOf<typeof reported> & { revoked: boolean }>(sql`
    insert into device (plant_id, id, name, station_id, last_seen_at, queue)
    select ${viewer.plantId}, ${report.deviceId}, coalesce(${report.name ?? null}, left(s.name, 80) || ', device ' || (
        select count(*) + 1 from device d where d.plant_id = ${viewer.plantId} and d.station_id = s.id and d.id <> ${report.deviceId}
      ), ${report.deviceId}), s.id, ${now}, ${queue}::jsonb
    from (select 1) one left join station s on s.plant_id = ${viewer.plantId} and s.id = ${report.stationId}
    on conflict (plant_id, id) do update
      set station_id = excluded.station_id,
        name = case when device.name = device.id then excluded.name else device.name end, last_seen_at = excluded.last_seen_at,
        queue = case
          when device.queue ->> 'batch' = excluded.queue ->> 'batch' and device.queue ->> 'batchSince' is not null
            and device.last_seen_at > ${now}::timestamptz - make_interval(mins => ${BATCH_LEASE_MINUTES})
          then jsonb_set(excluded.queue, '{batchSince}', device.queue -> 'batchSince')
          else excluded.queue end
    returning ${reported}, revoked_at is not null as revoked`);
  if (rows[0]?.revoked) throw new AppError("refused", words.deviceWasTakenOut);
  const [closed, batchElsewhere] = await Promise.all([
    whyStationClosed(getPool(), viewer.plantId, report.stationId),
    batch === null ? [] : batchHolders(viewer.plantId, batch, report.deviceId, now),
  ]);
  return {
    name: rows[0]?.name ?? report.deviceId,
    serverTime: now.getTime(),
    stationClosed: closed?.userMessage ?? null,
    batchElsewhere,
  };
}
