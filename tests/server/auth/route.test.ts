import { notFound, redirect } from "next/navigation";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { z } from "zod";
import { GET as getHealth } from "@/app/api/v1/health/route";
import { POST as postSignIn } from "@/app/api/auth/sign-in/route";
import { POST as postSignOut } from "@/app/api/auth/sign-out/route";
import { CoreError } from "@/lib/core/errors";
import { AppError } from "@/lib/errors";
import { viewerFromRequest } from "@/lib/server/auth/session";
import { signIn } from "@/lib/server/auth/sign-in";
import type { Viewer } from "@/lib/server/auth/viewer";
import { defineRoute } from "@/lib/server/doors/route";
import { createToken } from "@/lib/server/tokens/commands";
import { forgetTokens } from "@/lib/server/auth/find-token-viewer";
import { livingWorker } from "../../helpers/living-worker";
import { createTestDatabase, type TestDatabase } from "@/tests/helpers/database";
import { cookieHeader, createPlant, createSignIn, ORIGIN, PASSWORD, setTestEnvironment } from "./plant-fixture";

let database: TestDatabase;
let system: Viewer;
let cookie: string;
let bearer: string;

beforeAll(async () => {
  setTestEnvironment();
  database = await createTestDatabase();
  system = await createPlant("route");
  await createSignIn(system, "ines@plant.example", "inspector");
  cookie = cookieHeader(await signIn({ email: "ines@plant.example", password: PASSWORD }, new Headers()));
  const { token } = await createToken(system, { name: "rig", scopes: ["readings:write"] });
  bearer = `Bearer ${token}`;
});
afterAll(() => database.drop());

const bodySchema = z.strictObject({ serial: z.string(), sizeMm: z.number() });
const echo = defineRoute({
  auth: "viewer",
  schemas: {
    params: z.object({ id: z.string().max(5) }),
    query: z.object({
      limit: z.coerce.number().int().max(10).default(3),
      tag: z.union([z.string(), z.array(z.string())]).optional(),
    }),
    body: bodySchema,
  },
  handler: ({ viewer, params, query, body }) => ({ kind: viewer.kind, name: viewer.name, params, query, body }),
});

const context = (params: Record<string, string> = { id: "A1" }) => ({ params: Promise.resolve(params) });
const GOOD = { serial: "C41-1", sizeMm: 41.002 };

function post(body: BodyInit | null, headers: Record<string, string> = {}, search = ""): Request {
  const sent = { "content-type": "application/json", host: "localhost:3000", ...headers };
  return new Request(`${ORIGIN}/api/v1/echo${search}`, {
    method: "POST",
    headers: sent,
    body,
    duplex: "half",
  } as RequestInit);
}
const byToken = (body: unknown, search = "") => post(JSON.stringify(body), { authorization: bearer }, search);

async function problem(response: Response, status: number, code: string): Promise<Record<string, unknown>> {
  expect(response.status).toBe(status);
  expect(response.headers.get("content-type")).toBe("application/problem+json");
  expect(response.headers.get("cache-control")).toBe("no-store");
  const told = (await response.json()) as Record<string, unknown>;
  expect(told).toMatchObject({ status, code, type: `urn:shellgate:problem:${code}` });
  expect(told.requestId).toBe(response.headers.get("x-request-id"));
  return told;
}

function throwing(error: unknown): ReturnType<typeof defineRoute> {
  return defineRoute({
    auth: "public",
    handler: () => {
      throw error;
    },
  });
}
const get = (headers: Record<string, string> = {}): Request => new Request(`${ORIGIN}/api/v1/echo`, { headers });

describe("what a route gives its handler", () => {
  it("is the viewer of the token, and params, query and body parsed", async () => {
    const response = await echo(byToken(GOOD, "?limit=7&tag=a&tag=b"), context());
    expect(response.status).toBe(200);
    expect(await response.json()).toEqual({
      kind: "token",
      name: "rig",
      params: { id: "A1" },
      query: { limit: 7, tag: ["a", "b"] },
      body: GOOD,
    });
  });

  it("is the viewer of the session on our own page", async () => {
    const response = await echo(post(JSON.stringify(GOOD), { cookie, "sec-fetch-site": "same-origin" }), context());
    expect(await response.json()).toMatchObject({ kind: "person", name: "ines", query: { limit: 3 } });
  });

  it("keeps the number that the sender gave the request, unless it could harm a log", async () => {
    expect((await echo(post("{}", { "x-request-id": "rig-7.2026" }), context())).headers.get("x-request-id")).toBe(
      "rig-7.2026",
    );
    const odd = await echo(post("{}", { "x-request-id": "a b{}" }), context());
    expect(odd.headers.get("x-request-id")).toMatch(/^[0-9a-f-]{36}$/);
  });
});

describe("bad input is told in words and never answered 500", () => {
  it("names each field that is wrong", async () => {
    const told = await problem(await echo(byToken({ serial: 7, extra: true }), context()), 400, "invalid-input");
    const paths = (told.fields as { path: string }[]).map(({ path }) => path);
    expect(paths).toEqual(expect.arrayContaining(["serial", "sizeMm"]));
    expect(told.detail).toMatch(/Nothing was changed/);
  });

  it("refuses NaN spelled as null, wrong params and a wrong query", async () => {
    await problem(await echo(byToken({ serial: "A", sizeMm: Number.NaN }), context()), 400, "invalid-input");
    await problem(await echo(byToken(GOOD), context({ id: "too-long" })), 400, "invalid-input");
    await problem(await echo(byToken(GOOD, "?limit=many"), context()), 400, "invalid-input");
  });

  it.each([
    ["{", "not valid JSON"],
    ["", "empty"],
    ["41,9", "not valid JSON"],
    [new Uint8Array([0x22, 0xff, 0x22]), "UTF-8"],
  ])("tells what is wrong with the body %j", async (body, words) => {
    const told = await problem(
      await echo(post(body as BodyInit, { authorization: bearer }), context()),
      400,
      "invalid-input",
    );
    expect(told.detail).toContain(words);
  });

  it("refuses another kind of content", async () => {
    for (const type of ["text/plain", "multipart/form-data; boundary=x", "application/jsonp"]) {
      const request = post(JSON.stringify(GOOD), { authorization: bearer, "content-type": type });
      await problem(await echo(request, context()), 415, "unsupported-media-type");
    }
    const variant = post(JSON.stringify(GOOD), {
      authorization: bearer,
      "content-type": "application/json; charset=utf-8",
    });
    expect((await echo(variant, context())).status).toBe(200);
  });

  it("does not read a body of 10 MB that says its size", async () => {
    const request = post("x".repeat(10 * 1024 * 1024), {
      authorization: bearer,
      "content-length": String(10 * 1024 * 1024),
    });
    const told = await problem(await echo(request, context()), 413, "too-large");
    expect(told.detail).toBe("The body is larger than 2 MB. Nothing was kept; send it in smaller parts.");
    expect(request.bodyUsed).toBe(false);
  });

  it("stops reading a body of unknown size as soon as it is too large", async () => {
    let sent = 0;
    const endless = new ReadableStream({
      pull(controller) {
        sent += 64 * 1024;
        controller.enqueue(new Uint8Array(64 * 1024).fill(0x20));
      },
    });
    await problem(await echo(post(endless, { authorization: bearer }), context()), 413, "too-large");
    expect(sent).toBeLessThan(2.5 * 1024 * 1024);
  });

  it("keeps to the limit of the route", async () => {
    const small = defineRoute({ auth: "viewer", schemas: { body: bodySchema }, maxBodyBytes: 20, handler: () => null });
    await problem(await small(byToken(GOOD), context()), 413, "too-large");
  });
});

describe("who may not come in", () => {
  it("is nobody, an unknown token, and a token that is none", async () => {
    for (const authorization of [
      undefined,
      "Bearer sg_unknown",
      `Bearer sg_${"A".repeat(43)}`,
      "Basic aW5lczpw",
      "Bearer",
    ]) {
      const request = post(JSON.stringify(GOOD), authorization === undefined ? {} : { authorization });
      const response = await echo(request, context());
      expect(response.headers.get("www-authenticate")).toBe("Bearer");
      await problem(response, 401, "not-signed-in");
    }
  });

  it.each([
    ["another site", { "sec-fetch-site": "cross-site", origin: "https://evil.example" }],
    ["another site of the same domain", { "sec-fetch-site": "same-site" }],
    ["another origin in an old browser", { origin: "https://evil.example" }],
    ["an opaque origin", { origin: "null" }],
    ["nobody knows where", {}],
  ])("is a request with our cookie from %s", async (_, headers) => {
    const told = await problem(
      await echo(post(JSON.stringify(GOOD), { cookie, ...headers }), context()),
      403,
      "forbidden",
    );
    expect(told.detail).toMatch(/another site/);
  });

  it("but is our own page under any address of ours", async () => {
    process.env.SHELLGATE_OTHER_ORIGINS = "https://bench.example:3000";
    for (const origin of [ORIGIN, "https://bench.example:3000"]) {
      expect((await echo(post(JSON.stringify(GOOD), { cookie, origin }), context())).status).toBe(200);
    }
    delete process.env.SHELLGATE_OTHER_ORIGINS;
  });

  it("and reading needs no origin", async () => {
    const read = defineRoute({ auth: "viewer", handler: ({ viewer }) => viewer.name });
    expect(await (await read(get({ cookie }), context())).json()).toBe("ines");
  });
});

describe("what a handler throws", () => {
  it("is told with its code and details when it is ours", async () => {
    const error = new AppError("wrong-batch", "The frame is of another batch.", { details: { batch: "PM-1" } });
    const told = await problem(await throwing(error)(get(), context()), 409, "wrong-batch");
    expect(told).toMatchObject({ detail: "The frame is of another batch.", details: { batch: "PM-1" } });
  });

  it("is invalid input when the core refused it", async () => {
    const error = new CoreError("too-few-values", "sampleVariance: x must have at least 2 values; got 1");
    const told = await problem(await throwing(error)(get(), context()), 400, "invalid-input");
    expect(told.detail).toContain("at least 2 values; got 1");
  });

  it("is invalid input when the database cannot hold a value", async () => {
    const find = defineRoute({
      auth: "public",
      schemas: { body: z.object({ serial: z.string() }) },
      handler: ({ body }) => database.pool.query("select 1 from frame where serial = $1", [body.serial]),
    });
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    const told = await problem(await find(post('{"serial":"\\u0000"}'), context()), 400, "invalid-input");
    written.mockRestore();
    expect(told.detail).toContain("U+0000");
  });

  it("may be a Response of its own, even one whose headers are fixed", async () => {
    const moved = defineRoute({ auth: "public", handler: () => Response.redirect(`${ORIGIN}/gate`, 303) });
    const response = await moved(get({ "x-request-id": "rig-7.2026" }), context());
    expect([response.status, response.headers.get("location")]).toEqual([303, `${ORIGIN}/gate`]);
    expect(response.headers.get("x-request-id")).toBe("rig-7.2026");
  });

  it("is logged once and not told when nobody expected it", async () => {
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    try {
      const response = await throwing(new Error("relation secret_table is broken"))(get(), context());
      const told = await problem(response, 500, "unexpected");
      expect(JSON.stringify(told)).not.toContain("secret_table");
      expect(written).toHaveBeenCalledTimes(1);
      const line = JSON.parse(String(written.mock.calls[0]?.[0])) as Record<string, unknown>;
      expect(line).toMatchObject({ level: "error", eventId: told.eventId, requestId: told.requestId });
      expect(JSON.stringify(line)).toContain("secret_table");
    } finally {
      written.mockRestore();
    }
  });

  it("goes through when it is a redirect or not-found of Next", async () => {
    const moves = defineRoute({ auth: "public", handler: () => redirect("/gate") });
    const misses = defineRoute({ auth: "public", handler: () => notFound() });
    await expect(moves(get(), context())).rejects.toMatchObject({ digest: expect.stringContaining("NEXT_REDIRECT") });
    await expect(misses(get(), context())).rejects.toMatchObject({ digest: expect.stringContaining("404") });
  });
});

describe("signing in and out over HTTP", () => {
  const send = (body: unknown, headers: Record<string, string> = {}) =>
    postSignIn(post(JSON.stringify(body), headers), context());

  it("gives the cookie, and signing out takes it away and leads to the sign-in page", async () => {
    const response = await send({ email: " Ines@Plant.example ", password: PASSWORD }, { origin: ORIGIN });
    expect(response.status).toBe(204);
    const mine = cookieHeader(response.headers.getSetCookie());
    expect(await viewerFromRequest(get({ cookie: mine }))).toMatchObject({ name: "ines" });
    const out = await postSignOut(post(null, { cookie: mine, origin: ORIGIN }), context());
    expect([out.status, out.headers.get("location")]).toEqual([303, "/sign-in"]);
    expect(await viewerFromRequest(get({ cookie: mine }))).toBeNull();
  });

  it("is refused from another site, and sign-out too", async () => {
    const evil = { origin: "https://evil.example", "sec-fetch-site": "cross-site" };
    await problem(await send({ email: "ines@plant.example", password: PASSWORD }, evil), 403, "forbidden");
    await problem(await postSignOut(post(null, { cookie, ...evil }), context()), 403, "forbidden");
    expect(await viewerFromRequest(get({ cookie }))).toMatchObject({ name: "ines" });
  });

  it("answers 429 with words and Retry-After when too many were tried", async () => {
    const wrong = { email: "someone@plant.example", password: "wrong-wrong-wrong" };
    for (let n = 0; n < 10; n += 1) await problem(await send(wrong), 401, "sign-in-refused");
    const response = await send(wrong);
    expect(Number(response.headers.get("retry-after"))).toBeGreaterThan(0);
    const told = await problem(response, 429, "too-many-requests");
    expect(told.detail).toMatch(/^Too many passwords were tried\. Wait \d+ s and try again/);
  });
});

describe("health", () => {
  it("says what is there, without secrets", async () => {
    const worker = await livingWorker();
    const response = await getHealth(get(), context());
    await worker.end();
    expect(response.status).toBe(200);
    const told = (await response.json()) as Record<string, unknown>;
    expect(told).toMatchObject({ status: "ok", database: "ok", jobs: "ok", version: "0.1.0" });
    expect(told.migrations).toMatchObject({ latest: expect.stringMatching(/^\d{14}_/) });
    expect(JSON.stringify(told)).not.toMatch(/postgres|127\.0\.0\.1|password/i);
  });

  it("answers 503 when the database is away, and 503 problems elsewhere", async () => {
    const address = process.env.DATABASE_URL;
    const written = vi.spyOn(process.stderr, "write").mockReturnValue(true);
    process.env.DATABASE_URL = "postgresql://nobody:x@127.0.0.1:9/none";
    try {
      const response = await getHealth(get(), context());
      expect(response.status).toBe(503);
      expect(await response.json()).toEqual({
        status: "degraded",
        database: "away",
        disk: expect.stringMatching(/^(ok|low)$/),
        version: "0.1.0",
        migrations: null,
        unprotected: null,
        jobs: null,
      });
      forgetTokens();
      await problem(await echo(byToken(GOOD), context()), 503, "unavailable");
    } finally {
      written.mockRestore();
      process.env.DATABASE_URL = address;
    }
  });
});
