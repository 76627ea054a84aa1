import "server-only";
import { createHash } from "node:crypto";
import { AppError } from "../../errors";
import { isDemoCredential } from "../../schemas/demo-sign-ins";
import { uuidV7 } from "../../schemas/identifier";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { environment } from "../env";
import { log } from "../log";
import { mayUseDemoSignIns } from "./demo-access";
import { CLIENT_ADDRESS_HEADER, getAuthLibrary } from "./library";
import { clientAddress, trustedOrigins } from "./request-origin";

export type Credentials = { readonly email: string; readonly password: string };

const TRIES_PER_EMAIL = 10;
const EMAIL_WINDOW_MS = 5 * 60_000;

/** Sends a request to the library as the visitor's own, its origin and address written by us. */
async function askLibrary(path: string, headers: Headers, body: unknown): Promise<Response> {
  const origin = environment("SHELLGATE_ORIGIN");
  const sent = new Headers({
    "content-type": "application/json",
    origin: trustedOrigins()[0] ?? origin,
    [CLIENT_ADDRESS_HEADER]: clientAddress(headers) ?? "127.0.0.1",
  });
  for (const name of ["cookie", "user-agent"]) {
    const value = headers.get(name);
    if (value !== null) sent.set(name, value);
  }
  const url = new URL(`/api/auth${path}`, origin);
  return getAuthLibrary().handler(new Request(url, { method: "POST", headers: sent, body: JSON.stringify(body) }));
}

const emailKey = (email: string): string => `sign-in of ${createHash("sha256").update(email).digest("hex")}`;

function tooMany(seconds: number): AppError {
  const words = `Too many sign-ins were tried. Wait ${seconds} s and try again; nothing is locked and nothing was lost.`;
  return new AppError("too-many-requests", words, { details: { retryAfterSeconds: seconds } });
}

/**
 * Counts a try to sign in with this e-mail, whichever address it comes from, before the password is looked at.
 * @throws AppError too-many-requests beyond ten failures in five minutes
 */
async function countTry(email: string, nowMs: number): Promise<void> {
  const { rows } = await getPool().query<{ count: number; since: string }>(sql`
    insert into auth_rate_limit as r (id, key, count, last_request)
    values (${uuidV7(nowMs)}, ${emailKey(email)}, 1, ${nowMs})
    on conflict (key) do update set
      count = case when r.last_request <= ${nowMs - EMAIL_WINDOW_MS} then 1 else r.count + 1 end,
      last_request = case when r.last_request <= ${nowMs - EMAIL_WINDOW_MS} then ${nowMs} else r.last_request end
    returning count, last_request::text as since`);
  const row = rows[0];
  if (row === undefined || row.count <= TRIES_PER_EMAIL) return;
  throw tooMany(Math.max(1, Math.ceil((Number(row.since) + EMAIL_WINDOW_MS - nowMs) / 1000)));
}

async function forgetTries(email: string): Promise<void> {
  await getPool().query(sql`delete from auth_rate_limit where key = ${emailKey(email)}`);
}

async function endUnusableSessions(): Promise<void> {
  await getPool().query(sql`delete from auth_session where expires_at <= now()
    or updated_at <= now() - make_interval(mins => ${environment("SHELLGATE_IDLE_MINUTES")})`);
}

const refused = (): AppError =>
  new AppError("sign-in-refused", "The e-mail or the password is not right. Check both and try again.");

async function hasPerson(userId: string, isDemo: boolean): Promise<boolean> {
  const { rows } = await getPool().query(sql`
    select 1 from person p join plant on plant.id = p.plant_id
    where p.user_id = ${userId} and p.active and (plant.invented or not ${isDemo}::boolean)`);
  return rows.length > 0;
}

function assertDemoAllowed({ email, password }: Credentials, headers: Headers): void {
  if (!isDemoCredential(email, password) || mayUseDemoSignIns(headers)) return;
  const words =
    "The demo sign-ins work on the machine that Shellgate runs on, not over the network. Use your own sign-in, or ask whoever started Shellgate to allow them.";
  throw new AppError("sign-in-refused", words);
}

type SignedIn = { readonly token: string; readonly user: { readonly id: string } };

async function checkPassword(credentials: Credentials, headers: Headers): Promise<Response> {
  const response = await askLibrary("/sign-in/email", headers, credentials);
  if (response.ok) return response;
  if (response.status === 429) throw tooMany(Math.max(1, Number(response.headers.get("x-retry-after")) || 60));
  if (response.status >= 500) throw new Error(`sign-in: the library answered ${response.status}`);
  log.info("sign-in refused", { address: clientAddress(headers), status: response.status });
  throw refused();
}

/**
 * Signs a person in with e-mail and password.
 *
 * @param headers - of the visitor's request: cookies, and the address as our proxy tells it
 * @returns the Set-Cookie lines of the new session
 * @throws AppError sign-in-refused, in the same words whatever was wrong; too-many-requests
 */
export async function signIn(credentials: Credentials, headers: Headers): Promise<readonly string[]> {
  assertDemoAllowed(credentials, headers);
  await countTry(credentials.email, Date.now());
  const response = await checkPassword(credentials, headers);
  const { token, user } = (await response.json()) as SignedIn;
  const isDemo = isDemoCredential(credentials.email, credentials.password);
  if (!(await hasPerson(user.id, isDemo))) {
    await getPool().query(sql`delete from auth_session where token = ${token}`);
    throw refused();
  }
  await forgetTries(credentials.email);
  await endUnusableSessions();
  return response.headers.getSetCookie();
}

/** Ends the session of these headers, if there is one. @returns the Set-Cookie lines that take the cookie away */
export async function signOut(headers: Headers): Promise<readonly string[]> {
  const response = await askLibrary("/sign-out", headers, {});
  return response.headers.getSetCookie();
}
