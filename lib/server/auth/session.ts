import "server-only";
import { isDemoCredential } from "../../schemas/demo-sign-ins";
import type { Role } from "../../schemas/people";
import { getPool } from "../db/client";
import { authUserColumns } from "../db/columns/auth-user";
import { personColumns } from "../db/columns/person";
import { plantColumns } from "../db/columns/plant";
import { type RowOf, together } from "../db/columns/table-columns";
import { prepared, sql } from "../db/sql";
import { environment } from "../base/env";
import { findTokenViewer } from "./find-token-viewer";
import { mayUseDemoSignIns } from "./demo-access";
import { provenDevice } from "./device-cookie";
import { sessionKey } from "./session-cookie";
import type { PersonViewer, Viewer } from "./viewer";

const signedIn = together(
  plantColumns("plant", { invented: "invented", plant_zone: "timeZone" }),
  personColumns("p", { plant_id: "plantId", person_id: "id", name: "name" }),
  authUserColumns("u", ["email"]),
);

type SessionRow = RowOf<typeof signedIn> & {
  readonly session_id: string;
  readonly is_stale: boolean;
  readonly roles: readonly Role[];
  readonly revoked_device: string | null;
};

async function findSession(key: string): Promise<SessionRow | null> {
  const { rows } = await getPool().query<SessionRow>(
    prepared(
      "find-session",
      sql`select s.id as session_id, s.updated_at < now() - interval '1 minute' as is_stale, ${signedIn},
          array(select role::text from person_role r
            where r.plant_id = p.plant_id and r.person_id = p.id order by r.role) as roles,
          (select d.id from session_device sd join device d on d.plant_id = sd.plant_id and d.id = sd.device_id
            where sd.session_id = s.id and sd.plant_id = p.plant_id and d.revoked_at is not null limit 1) as revoked_device
        from auth_session s
          join auth_user u on u.id = s.user_id
          join person p on p.user_id = u.id and p.active
          join plant on plant.id = p.plant_id
        where s.token = ${key} and s.expires_at > now()
          and s.updated_at > now() - make_interval(mins => ${environment("SHELLGATE_IDLE_MINUTES")})
        order by p.created_at, p.plant_id limit 1`,
    ),
  );
  return rows[0] ?? null;
}

/** Puts off the idle end, at most once a minute. */
async function touchSession(id: string): Promise<void> {
  await getPool().query(sql`update auth_session set updated_at = now()
    where id = ${id} and updated_at < now() - interval '1 minute'`);
}

/** Who sent these headers, by the session cookie; null if nobody is signed in, or was idle for too long. */
export async function viewerFromHeaders(headers: Headers): Promise<PersonViewer | null> {
  const key = sessionKey(headers);
  const row = key === null ? null : await findSession(key);
  if (row === null) return null;
  // A demo session stays on this machine, even if its cookie travels.
  if (isDemoCredential(row.email) && !(row.invented && mayUseDemoSignIns(headers))) return null;
  if (row.is_stale) await touchSession(row.session_id);
  const proven = provenDevice(headers, row.plant_id);
  return {
    kind: "person",
    plantId: row.plant_id,
    plantZone: row.plant_zone,
    personId: row.person_id,
    name: row.name,
    roles: row.roles,
    sessionId: row.session_id,
    ...(proven === null ? {} : { provenDevice: proven }),
    ...(row.revoked_device === null ? {} : { revokedDevice: row.revoked_device }),
  };
}

/**
 * Who sent this request: by `Authorization: Bearer` if there is one, else by the session cookie. A wrong token is nobody,
 * whatever cookie comes with it.
 */
export async function viewerFromRequest(request: Request): Promise<Viewer | null> {
  const authorization = request.headers.get("authorization");
  if (authorization === null) return viewerFromHeaders(request.headers);
  const token = /^Bearer +(\S+)$/i.exec(authorization.trim())?.[1];
  return token === undefined ? null : findTokenViewer(token);
}
