import "server-only";
import { createHash } from "node:crypto";
import { AppError } from "../../errors";
import { isDemoCredential } from "../../schemas/demo-sign-ins";
import { getPool } from "../db/client";
import { sql } from "../db/sql";
import { environment } from "../base/env";
import { findPersonByEmail, journalSignedIn, journalSignedOut, journalSignInRefused } from "./access-journal";
import { mayUseDemoSignIns } from "./demo-access";
import { CLIENT_ADDRESS_HEADER, getAuthLibrary } from "./library";
import { addressGroup, clientAddress, trustedOrigins } from "./request-origin";
import { provenDevice } from "./device-cookie";
import { tieSession } from "./device-tie";
import { viewerFromHeaders } from "./session";
import { addressBrake, passwordBrake, TooManyTries, underBrakes } from "./tries";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.signIn;

export type Credentials = { readonly email: string; readonly password: string };

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

/** Who tries from one place does not hold up the same person elsewhere. */
function brakesOf(email: string, address: string | null) {
  const from = address === null ? "here" : addressGroup(address);
  const who = createHash("sha256").update(email.toLowerCase()).digest("hex");
  return [passwordBrake(`sign-in of ${who} from ${from}`), addressBrake(`sign-ins from ${from}`)];
}

/** Removes sessions that ended; they serve nobody before that either. */
export async function endUnusableSessions(): Promise<void> {
  await getPool().query(sql`delete from auth_session where expires_at <= now()
    or updated_at <= now() - make_interval(mins => ${environment("SHELLGATE_IDLE_MINUTES")})`);
}

const refused = (): AppError => new AppError("sign-in-refused", words.eMailOrPassword);

async function hasPerson(userId: string, isDemo: boolean): Promise<boolean> {
  const { rows } = await getPool().query(sql`
    select 1 from person p join plant on plant.id = p.plant_id
    where p.user_id = ${userId} and p.active and (plant.invented or not ${isDemo}::boolean)`);
  return rows.length > 0;
}

const isDemoFromAfar = ({ email, password }: Credentials, headers: Headers): boolean =>
  isDemoCredential(email, password) && !mayUseDemoSignIns(headers);

const demoRefused = (): AppError => new AppError("sign-in-refused", words.demoSignInsWork);

type SignedIn = { readonly token: string; readonly user: { readonly id: string } };

/** Whoever signs in on a device stays with it. */
async function tieToDeviceOf(headers: Headers, email: string, token: string): Promise<void> {
  const person = await findPersonByEmail(email);
  const deviceId = person === null ? null : provenDevice(headers, person.plantId);
  if (person !== null && deviceId !== null) await tieSession(token, person.plantId, deviceId);
}

async function checkPassword(credentials: Credentials, headers: Headers): Promise<Response | "wrong"> {
  const response = await askLibrary("/sign-in/email", headers, credentials);
  if (response.ok) return response;
  if (response.status >= 500) throw new Error(`sign-in: the library answered ${response.status}`);
  return "wrong";
}

async function endSession(token: string): Promise<void> {
  await getPool().query(sql`delete from auth_session where token = ${token}`);
}

/** A session that the journal does not know must not be. */
async function journalOrEnd(email: string, address: string | null, token: string): Promise<void> {
  try {
    const person = await findPersonByEmail(email);
    if (person !== null) await journalSignedIn(person, address);
  } catch (error) {
    await endSession(token);
    throw error;
  }
}

/**
 * Signs a person in with e-mail and password; whatever comes of it stands in the journal.
 *
 * @param headers - of the visitor's request: cookies, and the address as our proxy tells it
 * @returns the Set-Cookie lines of the new session
 * @throws AppError sign-in-refused, in the same words whatever was wrong; too-many-requests
 */
export async function signIn(credentials: Credentials, headers: Headers): Promise<readonly string[]> {
  const { email } = credentials;
  const address = clientAddress(headers);
  try {
    return await underBrakes(brakesOf(email, address), () => tryToSignIn(credentials, headers, address));
  } catch (error) {
    if (error instanceof TooManyTries && error.isFirst) await journalSignInRefused(email, address, "too many tries");
    throw error;
  }
}

async function tryToSignIn(
  credentials: Credentials,
  headers: Headers,
  address: string | null,
): Promise<readonly string[]> {
  const { email, password } = credentials;
  if (isDemoFromAfar(credentials, headers)) {
    await journalSignInRefused(email, address, "demo sign-in from the network");
    throw demoRefused();
  }
  const response = await checkPassword(credentials, headers);
  if (response === "wrong") {
    await journalSignInRefused(email, address, null);
    throw refused();
  }
  const { token, user } = (await response.json()) as SignedIn;
  if (!(await hasPerson(user.id, isDemoCredential(email, password)))) {
    await endSession(token);
    await journalSignInRefused(email, address, "deactivated");
    throw refused();
  }
  await journalOrEnd(email, address, token);
  await tieToDeviceOf(headers, email, token);
  return response.headers.getSetCookie();
}

/** Ends the session of these headers, if there is one. @returns the Set-Cookie lines that take the cookie away */
export async function signOut(headers: Headers): Promise<readonly string[]> {
  const viewer = await viewerFromHeaders(headers);
  const response = await askLibrary("/sign-out", headers, {});
  if (viewer !== null) await journalSignedOut(viewer, clientAddress(headers));
  return response.headers.getSetCookie();
}
