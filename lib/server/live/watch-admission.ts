import "server-only";
import { getPool } from "../db/client";
import { apiTokenColumns } from "../db/columns/api-token";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { environment } from "../base/env";
import { mayDo, type Action } from "../auth/permissions";
import type { PersonViewer, TokenViewer, Viewer } from "../auth/viewer";
import type { Role } from "../../schemas/people";
import { log } from "../base/log";

/** A stream whose reader is let in no more ends within this time, and that of one question. */
const ASKED_EACH_MS = 2_000;

type Watched = { readonly viewer: PersonViewer | TokenViewer; readonly action: Action; readonly end: () => void };
type Watch = { readonly all: Set<Watched>; timer: NodeJS.Timeout | null; isAsking: boolean };
type Holder = typeof globalThis & { shellgateAdmissions?: Watch };

function watch(): Watch {
  const holder: Holder = globalThis;
  holder.shellgateAdmissions ??= { all: new Set(), timer: null, isAsking: false };
  return holder.shellgateAdmissions;
}

/** Roles of the people whose session is still there, by the session; looking puts off no idle end. */
async function readSessions(ids: readonly string[]): Promise<ReadonlyMap<string, readonly Role[]>> {
  if (ids.length === 0) return new Map();
  const { rows } = await getPool().query<{ id: string; roles: Role[] }>(sql`
    select s.id, array(select r.role::text from person p
      join person_role r on r.plant_id = p.plant_id and r.person_id = p.id where p.user_id = s.user_id and p.active) as roles
    from auth_session s where s.id = any(${ids}::text[]) and s.expires_at > now()
      and not exists (select 1 from session_device u join device d on d.plant_id = u.plant_id and d.id = u.device_id
        where u.session_id = s.id and d.revoked_at is not null)
      and s.updated_at > now() - make_interval(mins => ${environment("SHELLGATE_IDLE_MINUTES")})`);
  return new Map(rows.map(({ id, roles }) => [id, roles]));
}

const admitted = apiTokenColumns("api_token", ["id"]);

async function readTokens(tokens: readonly TokenViewer[]): Promise<ReadonlySet<string>> {
  if (tokens.length === 0) return new Set();
  const { rows } = await getPool().query<RowOf<typeof admitted>>(sql`
    select ${admitted} from api_token where id = any(${tokens.map((one) => one.tokenId)}::uuid[]) and revoked_at is null
      and (expires_at is null or expires_at > now())`);
  return new Set(rows.map(({ id }) => id));
}

async function askAll({ all }: Watch): Promise<void> {
  const asked = [...all];
  const viewers = asked.map(({ viewer }) => viewer);
  const [sessions, tokens] = await Promise.all([
    readSessions(viewers.flatMap((one) => (one.kind === "person" ? (one.sessionId ?? []) : []))),
    readTokens(viewers.filter((one) => one.kind === "token")),
  ]);
  for (const { viewer, action, end } of asked) {
    if (viewer.kind === "token") {
      if (!tokens.has(viewer.tokenId)) end();
      continue;
    }
    const roles = sessions.get(viewer.sessionId ?? "") ?? [];
    if (!mayDo({ ...viewer, roles }, action)) end();
  }
}

/**
 * Watches that somebody whom something is told again and again is still let in: not signed out, not idle too long, not
 * deactivated, the device not out of use, the token not revoked or expired, the role still there. All of a process are asked about together.
 *
 * @param end - called once when they are not; nothing is ended because the database cannot be asked
 * @returns stops watching
 */
export function watchAdmission(viewer: Viewer, action: Action, end: () => void): () => void {
  if (viewer.kind === "system" || (viewer.kind === "person" && viewer.sessionId === undefined)) return () => undefined;
  const state = watch();
  const watched: Watched = { viewer, action, end };
  state.all.add(watched);
  state.timer ??= setInterval(() => {
    if (state.isAsking) return;
    state.isAsking = true;
    askAll(state)
      .catch((error: unknown) => log.warn("who may still listen could not be asked", { error }))
      .finally(() => (state.isAsking = false));
  }, ASKED_EACH_MS);
  return () => {
    state.all.delete(watched);
    if (state.all.size > 0 || state.timer === null) return;
    clearInterval(state.timer);
    state.timer = null;
  };
}
