import "server-only";
import { AppError } from "@/lib/errors";
import type { PersonViewer, Viewer } from "./viewer";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.deviceTie;

/** Ties that this process has written already, with whether they are proven. */
const known = new Map<string, boolean>();
const MOST_KNOWN = 10_000;

/** Whether nobody has claimed this device before: then whoever names it first is it. */
async function claim(plantId: string, deviceId: string): Promise<boolean> {
  const { rowCount } = await getPool().query(sql`
    insert into device_claim (plant_id, device_id) values (${plantId}, ${deviceId}) on conflict do nothing`);
  return rowCount === 1;
}

/**
 * Remembers that a sign-in or a token is used on a device: from then on it stays in or out with that device, also where a
 * request does not name it. A device is proven to whoever named it first, and to a browser that has its cookie.
 *
 * @returns whether the sender has shown to be the device, and not only named it
 */
export async function tieToDevice(viewer: Viewer, deviceId: string): Promise<boolean> {
  const { plantId } = viewer;
  // Nobody sent a request: Shellgate itself, and the commands of its own tests.
  if (viewer.kind === "system" || (viewer.kind === "person" && viewer.sessionId === undefined)) return true;
  const bearer = viewer.kind === "token" ? viewer.tokenId : (viewer.sessionId ?? "");
  const key = `${plantId} ${bearer} ${deviceId}`;
  const shown = viewer.kind === "person" && viewer.provenDevice === deviceId;
  const before = known.get(key);
  if (before === true || (before === false && !shown)) return before;
  const proven = (await claim(plantId, deviceId)) || shown;
  // A session that has ended meanwhile is tied to nothing.
  const { rows } =
    viewer.kind === "token"
      ? await getPool().query<{ proven: boolean }>(sql`
          insert into token_device as d (plant_id, token_id, device_id, proven)
          values (${plantId}, ${viewer.tokenId}, ${deviceId}, ${proven})
          on conflict (plant_id, token_id, device_id) do update set proven = d.proven or excluded.proven returning proven`)
      : await getPool().query<{ proven: boolean }>(sql`
          insert into session_device as d (session_id, plant_id, device_id, proven)
          select id, ${plantId}, ${deviceId}, ${proven} from auth_session where id = ${bearer} for key share
          on conflict (session_id, plant_id, device_id) do update set proven = d.proven or excluded.proven returning proven`);
  const result = rows[0]?.proven ?? false;
  if (known.size >= MOST_KNOWN) known.clear();
  if (rows.length > 0) known.set(key, result);
  return result;
}

/** Ties a new session to the device whose cookie came with the sign-in. */
export async function tieSession(sessionToken: string, plantId: string, deviceId: string): Promise<void> {
  await getPool().query(sql`
    insert into session_device (session_id, plant_id, device_id, proven)
    select s.id, ${plantId}, ${deviceId}, true from auth_session s where s.token = ${sessionToken} on conflict do nothing`);
}

/** The devices that a person's sign-in is used on. */
export async function devicesOf({ plantId, sessionId }: PersonViewer): Promise<readonly string[]> {
  if (sessionId === undefined) return [];
  const { rows } = await getPool().query<{ id: string }>(sql`
    select device_id as id from session_device where session_id = ${sessionId} and plant_id = ${plantId}`);
  return rows.map(({ id }) => id);
}

/**
 * Refuses what comes by a token of a device that was taken out of use, unless it names one that the token was used with
 * before and that is in use. Of a person's sign-in the permissions know it.
 *
 * @throws AppError refused, with `revoked` in its details
 */
export function assertTokenDevice(viewer: Viewer, deviceId: string | undefined): void {
  if (viewer.kind !== "token" || viewer.devices === undefined) return;
  const { revoked, inUse } = viewer.devices;
  if (deviceId === undefined ? false : inUse.includes(deviceId)) return;
  const device = revoked[0] ?? "";
  throw new AppError("refused", words.deviceWhichSendsWithToken(device), { details: { device, revoked: true } });
}
