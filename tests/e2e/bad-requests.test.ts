import http from "node:http";
import { describe, expect, inject, it } from "vitest";

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
});
