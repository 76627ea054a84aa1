import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from "vitest";
import { DEMO_PASSWORD } from "@/lib/schemas/demo-sign-ins";
import { sweepTries } from "@/lib/server/auth/tries";
import { signIn, signOut } from "@/lib/server/auth/sign-in";
import { viewerFromHeaders, viewerFromRequest } from "@/lib/server/auth/session";
import type { Viewer } from "@/lib/server/auth/viewer";
import { inSqlTransaction } from "@/lib/server/db/transaction";
import { changeOwnPassword, changeRoles, deactivatePerson } from "@/lib/server/people/commands";
import { unsafeDemoPasswordHash, unsafeInsertDemoPeople } from "@/lib/server/people/demo-people";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { cookieHeader, createPlant, createSignIn, PASSWORD, setTestEnvironment } from "./plant-fixture";

let database: TestDatabase;
let system: Viewer;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  system = await createPlant("sign-in");
  await createSignIn(system, "boss@plant.example", "administrator");
});
afterAll(() => database.drop());
afterEach(async () => {
  vi.useRealTimers();
  setSecretKept();
  await database.pool.query("delete from auth_rate_limit");
});

function setSecretKept(): void {
  const secret = process.env.AUTH_SECRET;
  setTestEnvironment();
  process.env.AUTH_SECRET = secret;
  delete process.env.SHELLGATE_IDLE_MINUTES;
}

const NONE = new Headers();
const signedIn = async (email: string, password = PASSWORD): Promise<Headers> =>
  new Headers({ cookie: cookieHeader(await signIn({ email, password }, NONE)) });
const codeOf = (promise: Promise<unknown>): Promise<unknown> =>
  promise.then(
    () => "done",
    (error: { code?: string }) => error.code,
  );

describe("signing in", () => {
  it("gives a cookie that names the person with the roles of now", async () => {
    const ines = await createSignIn(system, "ines@plant.example", "inspector");
    const lines = await signIn({ email: "ines@plant.example", password: PASSWORD }, NONE);
    expect(lines).toHaveLength(1);
    expect(lines[0]).toMatch(/^shellgate\.session_token=/);
    expect(lines[0]).toMatch(/HttpOnly/i);
    expect(lines[0]).toMatch(/SameSite=Lax/i);
    expect(lines[0]).not.toMatch(/Secure/i);
    const headers = new Headers({ cookie: `theme=night; ${cookieHeader(lines)}` });
    expect(await viewerFromHeaders(headers)).toEqual({ ...ines, sessionId: expect.any(String) });
    await changeRoles(system, { personId: ines.personId, roles: ["engineer", "dock"] });
    expect(await viewerFromHeaders(headers)).toMatchObject({ roles: ["engineer", "dock"] });
  });

  it("makes the cookie secure when the address is https", async () => {
    await createSignIn(system, "tls@plant.example", "dock");
    process.env.SHELLGATE_ORIGIN = "https://plant.example:3000";
    const lines = await signIn({ email: "tls@plant.example", password: PASSWORD }, NONE);
    expect(lines[0]).toMatch(/^__Secure-shellgate\.session_token=.*; Secure/i);
    expect(await viewerFromHeaders(new Headers({ cookie: cookieHeader(lines) }))).toMatchObject({ name: "tls" });
  });

  it("refuses a wrong password, an unknown e-mail and a person without access in the same words", async () => {
    const gone = await createSignIn(system, "gone@plant.example", "dock");
    await deactivatePerson(system, { personId: gone.personId });
    const wrong = { email: "boss@plant.example", password: "not-the-password" };
    const unknown = { email: "nobody@plant.example", password: PASSWORD };
    const ended = { email: "gone@plant.example", password: PASSWORD };
    const told = await Promise.all(
      [wrong, unknown, ended].map((credentials) => signIn(credentials, NONE).catch((error: unknown) => error)),
    );
    for (const error of told) {
      expect(error).toMatchObject({ code: "sign-in-refused" });
      expect(String(error)).toBe(String(told[0]));
    }
    const { rows } = await database.pool.query(
      "select 1 from auth_session s join auth_user u on u.id = s.user_id where u.email = 'gone@plant.example'",
    );
    expect(rows).toHaveLength(0);
  });

  it("stores the password only as a scrypt hash", async () => {
    const { rows } = await database.pool.query("select password from auth_account limit 1");
    expect(rows[0].password).toMatch(/^[0-9a-f]{32}:[0-9a-f]{128}$/);
  });

  it("answers too-many-requests with words and seconds after ten failures of one e-mail, and a success forgets them", async () => {
    await createSignIn(system, "tired@plant.example", "inspector");
    const wrong = () => signIn({ email: "tired@plant.example", password: "wrong-wrong-wrong" }, NONE);
    for (let n = 0; n < 9; n += 1) expect(await codeOf(wrong())).toBe("sign-in-refused");
    await signedIn("tired@plant.example");
    for (let n = 0; n < 10; n += 1) expect(await codeOf(wrong())).toBe("sign-in-refused");
    const error = await wrong().catch((thrown: unknown) => thrown);
    expect(error).toMatchObject({ code: "too-many-requests" });
    expect(String(error)).toMatch(/Too many passwords were tried\. Wait \d+ s and try again/);
    expect(error).toMatchObject({ details: { retryAfterSeconds: expect.any(Number) } });
    // The right password does not help while the brake is on, and another person is not braked.
    expect(await codeOf(signedIn("tired@plant.example"))).toBe("too-many-requests");
    expect(await codeOf(signedIn("boss@plant.example"))).toBe("done");
  });

  it("brakes one address that tries many e-mails, and not another address", async () => {
    process.env.SHELLGATE_FORWARDED = "1";
    // Thirty passwords may take a busy machine longer than the minute in which they count.
    vi.useFakeTimers({ toFake: ["Date"] });
    const from = (address: string) => new Headers({ "x-forwarded-for": address });
    const wrong = (n: number, address: string) =>
      codeOf(signIn({ email: `guess${n}@plant.example`, password: "wrong-wrong-wrong" }, from(address)));
    for (let n = 0; n < 30; n += 1) expect(await wrong(n, "192.0.2.7")).toBe("sign-in-refused");
    expect(await wrong(30, "192.0.2.7")).toBe("too-many-requests");
    // What the visitor claims stands before what our proxy wrote.
    expect(await wrong(31, "203.0.113.5, 192.0.2.7")).toBe("too-many-requests");
    expect(await wrong(32, "192.0.2.8")).toBe("sign-in-refused");
  });

  it("does not hold up somebody elsewhere because of who tries from another address", async () => {
    process.env.SHELLGATE_FORWARDED = "1";
    await createSignIn(system, "target@plant.example", "inspector");
    const from = (address: string) => new Headers({ "x-forwarded-for": address });
    const enter = (address: string, password: string) =>
      codeOf(signIn({ email: "target@plant.example", password }, from(address)));
    for (let n = 0; n < 12; n += 1) await enter("198.51.100.1", "wrong-wrong-wrong");
    expect(await enter("198.51.100.1", PASSWORD)).toBe("too-many-requests");
    expect(await enter("198.51.100.2", PASSWORD)).toBe("done");
    // Of an IPv6 network one sender has all the addresses.
    for (let n = 0; n < 12; n += 1) await enter(`2001:db8:0:1::${n + 1}`, "wrong-wrong-wrong");
    expect(await enter("2001:db8:0:1:ffff::9", PASSWORD)).toBe("too-many-requests");
    expect(await enter("2001:db8:0:2::1", PASSWORD)).toBe("done");
  });

  it("counts no right password, however many come at once", async () => {
    process.env.SHELLGATE_FORWARDED = "1";
    const headers = new Headers({ "x-forwarded-for": "198.51.100.3" });
    await createSignIn(system, "crowd@plant.example", "inspector");
    const all = await Promise.all(
      Array.from({ length: 36 }, () => codeOf(signIn({ email: "crowd@plant.example", password: PASSWORD }, headers))),
    );
    expect(all).toEqual(Array(36).fill("done"));
    const { rows } = await database.pool.query(
      "select coalesce(sum(count), 0)::int as counted from auth_rate_limit where key like '%198.51.100.3'",
    );
    expect(rows[0].counted).toBe(0);
  });

  it("says truly how long to wait, and keeps no table of old tries", async () => {
    const wrong = () => signIn({ email: "patient@plant.example", password: "wrong-wrong-wrong" }, NONE);
    for (let n = 0; n < 10; n += 1) await codeOf(wrong());
    const { details } = (await wrong().catch((error: unknown) => error)) as {
      details: { retryAfterSeconds: number };
    };
    const age = (seconds: number) =>
      database.pool.query("update auth_rate_limit set last_request = last_request - $1::int * 1000", [seconds]);
    await age(details.retryAfterSeconds - 2);
    expect(await codeOf(wrong())).toBe("too-many-requests");
    await age(3);
    expect(await codeOf(wrong())).toBe("sign-in-refused");
    await age(3601);
    await sweepTries(Date.now() + 120_000);
    const { rows } = await database.pool.query("select key from auth_rate_limit");
    expect(rows).toEqual([]);
  });

  it("lets nobody sign up, and opens none of the library's own routes to one", async () => {
    const { getAuthLibrary } = await import("@/lib/server/auth/library");
    const body = { email: "intruder@plant.example", password: PASSWORD, name: "x" };
    await expect(getAuthLibrary().api.signUpEmail({ body })).rejects.toThrow(/sign up is not enabled/i);
  });
});

describe("a session", () => {
  it("ends with signing out", async () => {
    const headers = await signedIn("boss@plant.example");
    expect(await viewerFromHeaders(headers)).not.toBeNull();
    const lines = await signOut(headers);
    expect(lines.some((line) => /session_token=;.*Max-Age=0/i.test(line))).toBe(true);
    expect(await viewerFromHeaders(headers)).toBeNull();
  });

  it("is not taken from a cookie with another signature, or without one", async () => {
    const cookie = (await signedIn("boss@plant.example")).get("cookie") ?? "";
    const unsigned = cookie.replace(/\..{20,}$/, "");
    const [name, value] = [cookie.slice(0, cookie.indexOf("=")), cookie.slice(cookie.indexOf("=") + 1)];
    const key = value.split(".")[0];
    const forged = `${name}=${key}.${encodeURIComponent(Buffer.alloc(32, 7).toString("base64"))}`;
    for (const bad of [unsigned, forged, `${name}=`, `${name}=%`, `${name}=${key}.%zz`, "=", ""]) {
      expect(await viewerFromHeaders(new Headers({ cookie: bad }))).toBeNull();
    }
    expect(await viewerFromHeaders(new Headers({ cookie }))).not.toBeNull();
  });

  it("ends after the idle time, and use puts that off", async () => {
    process.env.SHELLGATE_IDLE_MINUTES = "30";
    const headers = await signedIn("boss@plant.example");
    const idle = (minutes: number) =>
      database.pool.query("update auth_session set updated_at = now() - make_interval(mins => $1)", [minutes]);
    await idle(29);
    expect(await viewerFromHeaders(headers)).not.toBeNull();
    const { rows } = await database.pool.query(
      "select min(now() - updated_at) < interval '10 s' as fresh from auth_session",
    );
    expect(rows[0].fresh).toBe(true);
    await idle(31);
    expect(await viewerFromHeaders(headers)).toBeNull();
  });

  it("ends at its last hour however busy it was", async () => {
    const headers = await signedIn("boss@plant.example");
    await database.pool.query("update auth_session set expires_at = now() - interval '1 s'");
    expect(await viewerFromHeaders(headers)).toBeNull();
  });

  it("ends on every device when the person is deactivated", async () => {
    const leaver = await createSignIn(system, "leaver@plant.example", "inspector");
    const devices = [await signedIn("leaver@plant.example"), await signedIn("leaver@plant.example")];
    await deactivatePerson(system, { personId: leaver.personId });
    for (const headers of devices) expect(await viewerFromHeaders(headers)).toBeNull();
  });

  it("ends on every device when the password is changed, and the old password is out", async () => {
    const viewer = await createSignIn(system, "changer@plant.example", "engineer");
    const headers = await signedIn("changer@plant.example");
    const change = (currentPassword: string, newPassword: string) =>
      codeOf(changeOwnPassword(viewer, { currentPassword, newPassword }));
    expect(await change("not-it-not-it", "another-long-password")).toBe("sign-in-refused");
    expect(await change(PASSWORD, "short")).toBe("invalid-input");
    expect(await change(PASSWORD, DEMO_PASSWORD)).toBe("invalid-input");
    expect(await change(PASSWORD, "another-long-password")).toBe("done");
    expect(await viewerFromHeaders(headers)).toBeNull();
    expect(await codeOf(signedIn("changer@plant.example"))).toBe("sign-in-refused");
    expect(await codeOf(signedIn("changer@plant.example", "another-long-password"))).toBe("done");
  });

  it("does not stand in for a wrong API token", async () => {
    const headers = await signedIn("boss@plant.example");
    headers.set("authorization", "Bearer sg_wrong");
    expect(await viewerFromRequest(new Request("http://localhost/api", { headers }))).toBeNull();
  });
});

describe("the demo sign-ins", () => {
  const demo = { email: "engineer@fennimoor.example", password: DEMO_PASSWORD };
  let demoPlantId: string;

  beforeAll(async () => {
    demoPlantId = (await createPlant("fennimoor", true)).plantId;
    const hash = await unsafeDemoPasswordHash();
    await inSqlTransaction((db) => unsafeInsertDemoPeople(db, demoPlantId, hash));
  });

  it("work only where the start command turned them on", async () => {
    expect(await codeOf(signIn(demo, NONE))).toBe("sign-in-refused");
    process.env.SHELLGATE_DEMO_SIGN_INS = "1";
    expect(await codeOf(signIn(demo, NONE))).toBe("done");
  });

  it("behind our proxy work from this machine, and from the network only when asked for", async () => {
    Object.assign(process.env, { SHELLGATE_DEMO_SIGN_INS: "1", SHELLGATE_FORWARDED: "1" });
    const near = new Headers({ "x-forwarded-for": "127.0.0.1" });
    const far = new Headers({ "x-forwarded-for": "127.0.0.1, 192.0.2.50" });
    expect(await codeOf(signIn(demo, near))).toBe("done");
    expect(await codeOf(signIn(demo, far))).toBe("sign-in-refused");
    expect(await codeOf(signIn(demo, NONE))).toBe("sign-in-refused");
    process.env.SHELLGATE_DEMO_ON_NETWORK = "1";
    expect(await codeOf(signIn(demo, far))).toBe("done");
  });

  it("do not carry a session away to the network", async () => {
    Object.assign(process.env, { SHELLGATE_DEMO_SIGN_INS: "1", SHELLGATE_FORWARDED: "1" });
    const near = new Headers({ "x-forwarded-for": "::ffff:127.0.0.1" });
    const cookie = cookieHeader(await signIn(demo, near));
    expect(await viewerFromHeaders(new Headers({ cookie, "x-forwarded-for": "::1" }))).toMatchObject({
      name: "Ilse Brandow",
      plantId: demoPlantId,
    });
    expect(await viewerFromHeaders(new Headers({ cookie, "x-forwarded-for": "192.0.2.50" }))).toBeNull();
  });

  it("do not work in a plant that is not invented", async () => {
    process.env.SHELLGATE_DEMO_SIGN_INS = "1";
    await database.pool.query("update plant set invented = false where id = $1", [demoPlantId]);
    expect(await codeOf(signIn(demo, NONE))).toBe("sign-in-refused");
    await database.pool.query("update plant set invented = true where id = $1", [demoPlantId]);
  });
});
