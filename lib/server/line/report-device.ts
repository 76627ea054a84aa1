import "server-only";
import { AppError } from "@/lib/errors";
import type { ReportDevice } from "@/lib/schemas/line";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { whyStationClosed } from "./station-in-use";

export type DeviceReport = {
  /** The server's clock, milliseconds since 1970. */
  readonly serverTime: number;
  /** Why its station takes nothing; null while that is in use. */
  readonly stationClosed: string | null;
};

/**
 * What a device at a station says of itself: that it is there, how many inspections wait on it and since when, and how far
 * its clock is off. The engineer reads it; nothing is decided by it.
 *
 * @throws AppError forbidden; refused when the device was revoked
 */
export async function reportDevice(
  viewer: Viewer,
  report: ReportDevice,
  now: Date = new Date(),
): Promise<DeviceReport> {
  assertMay(viewer, "line.lease");
  const queue = JSON.stringify({
    waiting: report.waiting,
    refused: report.refused,
    oldestAt: report.oldestAt,
    clockSkewMs: report.clockSkewMs,
    batch: report.batch ?? null,
    differences: report.differences ?? [],
  });
  const { rows } = await getPool().query<{ revoked: boolean }>(sql`
    insert into device (plant_id, id, name, station_id, last_seen_at, queue)
    select ${viewer.plantId}, ${report.deviceId}, ${report.deviceId}, s.id, ${now}, ${queue}::jsonb
    from (select 1) one left join station s on s.plant_id = ${viewer.plantId} and s.id = ${report.stationId}
    on conflict (plant_id, id) do update
      set station_id = excluded.station_id, last_seen_at = excluded.last_seen_at, queue = excluded.queue
    returning revoked_at is not null as revoked`);
  if (rows[0]?.revoked)
    throw new AppError(
      "refused",
      "This device was taken out of use. Its readings are kept on it: save them to a file and call the engineer.",
    );
  const closed = await whyStationClosed(getPool(), viewer.plantId, report.stationId);
  return { serverTime: now.getTime(), stationClosed: closed?.userMessage ?? null };
}
