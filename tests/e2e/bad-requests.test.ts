import http from "node:http";
import { afterAll, beforeAll, describe, expect, inject, it } from "vitest";
import type { Browser } from "playwright-core";
import type { Role } from "@/lib/schemas/people";
import { APP_PAGES } from "../helpers/app-pages";
import { launchBrowser } from "../helpers/browser";
import { signedIn } from "../helpers/signed-in";

type Answer = { readonly status: number; readonly type: string; readonly text: string };

/** One request as it is, without what fetch mends or refuses; what arrives is read while the body is still being sent. */
function ask(method: string, address: string, body?: Buffer, headers: http.OutgoingHttpHeaders = {}): Promise<Answer> {
  const { hostname, port } = new URL(inject("appAddress"));
  return new Promise((resolve, reject) => {
    const call = http.request({ hostname, port, method, path: address, headers }, (response) => {
      let text = "";
      response.setEncoding("utf8").on("data", (part: string) => (text += part));
      response.on("end", () =>
        resolve({ status: response.statusCode ?? 0, type: response.headers["content-type"] ?? "", text }),
      );
    });
    call.on("error", reject);
    call.end(body);
  });
}
const JSON_TYPE = { "content-type": "application/json", authorization: "Bearer sg_none" };
const LEAKS = /node_modules|\.ts:\d|at Object|postgres(?:ql)?:\/\/|SQLSTATE|PrismaClient/;

describe("the running application", () => {
  it.each(["TRACE", "PROPFIND", "PUT", "PATCH", "DELETE", "OPTIONS"])(
    "answers %s without a failure",
    async (method) => {
      for (const address of ["/", "/api/v1/inspections", "/api/v1/health", "/api/v1/nothing"]) {
        const { status, text } = await ask(method, address);
        expect(status, `${method} ${address}`).toBeLessThan(500);
        expect(text).not.toMatch(LEAKS);
      }
    },
  );

  it("refuses 10 MB of body in words, with and without the length said before", async () => {
    const body = Buffer.alloc(10 * 2 ** 20, "x");
    for (const more of [{ "content-length": body.length }, { "transfer-encoding": "chunked" }]) {
      const { email, password } = { email: "a@b.example", password: "x" };
      const sent = Buffer.concat([Buffer.from(JSON.stringify({ email, password })), body]);
      const headers = { "content-type": "application/json", origin: inject("appAddress"), ...more };
      if ("content-length" in more) headers["content-length"] = sent.length;
      const answer = await ask("POST", "/api/auth/sign-in", sent, headers).catch(
        (error: NodeJS.ErrnoException) => error.code,
      );
      // The server may close before everything was sent; then the sender sees that, and never a failure of the server.
      if (typeof answer === "object") expect(answer.status).toBe(413);
      else expect(["EPIPE", "ECONNRESET"]).toContain(answer);
    }
  });

  it.each([
    ["/api/v1/gate/frames/%00", 400],
    ["/api/v1/gate/frames/%ff", 400],
    ["/api/v1/gate/frames/..%2f..%2fetc%2fpasswd", 401],
    ["/api/v1/nothing", 404],
  ])("answers %s as a problem", async (address, status) => {
    const answer = await ask("GET", address, undefined, JSON_TYPE);
    expect(answer.status).toBe(status);
    expect(answer.type).toBe("application/problem+json");
    expect(answer.text).not.toMatch(LEAKS);
  });

  it.each([
    "/.env",
    "/package.json",
    "/.git/config",
    "/_next/static/..%2f..%2f..%2fpackage.json",
    "/prisma/schema.prisma",
  ])("gives %s to nobody", async (address) => {
    const { status, text } = await ask("GET", address);
    expect([307, 400, 404]).toContain(status);
    expect(text).not.toMatch(/"dependencies"|datasource|DATABASE_URL/);
  });

  it.each(["/", "/gate", "/sign-in", "/api/v1/health", "/api/v1/alive", "/line-worker.js", "/_next/static/x.js"])(
    "answers %s under no stranger's name, since a page could have made that name lead here",
    async (address) => {
      for (const host of [
        "evil.example",
        `evil.example:${new URL(inject("appAddress")).port}`,
        "127.0.0.1.evil.example",
      ]) {
        const answer = await ask("GET", address, undefined, { host });
        expect(answer.status).toBe(421);
        expect(answer.text).toMatch(/does not answer under the name/);
      }
      const own = await ask("GET", address, undefined, { host: "127.0.0.1" });
      expect(own.status).toBeLessThan(421);
    },
  );

  it("refuses an action of another site, one that is too long and one of no size, in words and without a failure", async () => {
    const origin = inject("appAddress");
    const action = { "next-action": "0".repeat(42), "content-type": "text/plain;charset=UTF-8" };
    const foreign = await ask("POST", "/sign-in", Buffer.from("[]"), { ...action, origin: "https://evil.example" });
    expect([foreign.status, foreign.text]).toEqual([403, expect.stringMatching(/^This came from another site/)]);
    const headers = { ...action, origin, connection: "close" };
    const long = await ask("POST", "/sign-in", Buffer.alloc(20_000, "x"), { ...headers, "content-length": 20_000 });
    expect([long.status, long.text]).toEqual([413, expect.stringMatching(/Nothing was changed/)]);
    const sizeless = await ask("POST", "/sign-in", Buffer.from("[]"), { ...headers, "transfer-encoding": "chunked" });
    expect(sizeless.status).toBe(411);
  });
});

describe("a page of something that is not there", () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launchBrowser();
  });
  afterAll(() => browser.close());

  it("is not found, whatever stands in the address for it, and never a failure", async () => {
    const [base, nobody] = [inject("appAddress"), ["x", "__proto__", "..%2f..%2fetc", "9".repeat(3000)]];
    const asked = Object.entries(APP_PAGES).flatMap(([route, { as }]) =>
      as !== null && route.includes("[") ? nobody.map((id) => [as, route.replace(/\[\w+\]/, id)] as const) : [],
    );
    asked.push(
      ["auditor", "/setup/journal?from=0000-01-01"],
      ["engineer", "/gauges/trace?of=gauge&key=BG-05&from=0000-01-01"],
    );
    const contexts = new Map<Role, Awaited<ReturnType<typeof signedIn>>["context"]>();
    const failed: string[] = [];
    for (const [role, address] of asked) {
      const context = contexts.get(role) ?? (await signedIn(browser, base, role)).context;
      contexts.set(role, context);
      const answer = await context.request.get(`${base}${address}`, { maxRedirects: 0 });
      if (answer.status() >= 500) failed.push(`${answer.status()} ${address.slice(0, 80)}`);
    }
    expect(failed).toEqual([]);
    for (const context of contexts.values()) await context.close();
  });
});
