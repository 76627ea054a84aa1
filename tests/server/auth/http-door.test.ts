import { createHmac } from "node:crypto";
import http from "node:http";
import type { AddressInfo } from "node:net";
import net from "node:net";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { GET as getHealth } from "@/app/api/v1/health/route";
import { isKnownHost } from "@/lib/server/auth/known-hosts";
import { guardDoor } from "@/lib/server/doors/http-door";
import { noteTrouble } from "@/lib/server/doors/trouble";
import { setTestEnvironment } from "./plant-fixture";

/** SQLSTATEs (PostgreSQL manual, appendix A) by address; XX000 is a fault of the program. */
const TROUBLE: Readonly<Record<string, string>> = {
  "/page/away": "57P01",
  "/page/full": "53100",
  "/page/held": "55P03",
  "/page/fault": "XX000",
  "/api/v1/away": "57P01",
};

let server: http.Server;
let port: number;
let passed: { url: string | undefined; forwardedHost: unknown }[] = [];

beforeAll(async () => {
  setTestEnvironment();
  guardDoor();
  server = http.createServer((request, response) => {
    const failure = TROUBLE[request.url ?? ""];
    if (failure !== undefined) {
      noteTrouble(Object.assign(new Error("a page failed"), { code: failure }));
      response.statusCode = 500;
      return response.end("a page that says so");
    }
    passed.push({ url: request.url, forwardedHost: request.headers["x-forwarded-host"] });
    let bytes = 0;
    request.on("data", (chunk: Buffer) => (bytes += chunk.length));
    request.on("end", () => response.end(`in ${bytes}`));
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  port = (server.address() as AddressInfo).port;
});
afterAll(async () => {
  server.closeAllConnections();
  await new Promise((resolve) => server.close(resolve));
});
afterEach(() => {
  passed = [];
  process.env.SHELLGATE_FORWARDED = "0";
  delete process.env.SHELLGATE_OTHER_ORIGINS;
});

/** One request as it is written, and the whole answer. */
function send(lines: readonly string[], body = ""): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = net.connect(port, "127.0.0.1", () => socket.write([...lines, "", body].join("\r\n")));
    let text = "";
    socket.setTimeout(5000, () => socket.destroy(new Error(`no answer: ${text}`)));
    socket.on("data", (chunk: Buffer) => {
      text += chunk.toString();
      if (/\r\n\r\n/.test(text)) socket.end();
    });
    socket.on("error", reject);
    socket.on("close", () => resolve(text));
  });
}
const statusOf = (answer: string): number => Number(answer.split(" ")[1]);
const ask = async (host: string, target = "/", more: readonly string[] = []): Promise<number> =>
  statusOf(await send([`GET ${target} HTTP/1.1`, `Host: ${host}`, ...more]));

describe("the names that the plant answers under", () => {
  it.each(["localhost", "LOCALHOST:3000", "127.0.0.1:8080", "[::1]:3000", "[0:0:0:0:0:0:0:1]"])(
    "%s is one of them",
    async (host) => expect(await ask(host)).toBe(200),
  );

  it.each([
    "evil.example",
    "evil.example:3000",
    "localhost.evil.example",
    "localhost@evil.example",
    "evil.example#localhost",
    "127.0.0.1.evil.example",
    "127.1",
    "0.0.0.0",
    "[::2]",
    "localhost.",
    "192.168.1.9",
    "localhost, evil.example",
  ])("%s is none, whatever is asked for", async (host) => {
    for (const target of ["/", "/gate", "/sign-in", "/api/v1/health", "/_next/static/x.js", "/line-worker.js"])
      expect(await ask(host, target), target).toBe(421);
    expect(passed).toEqual([]);
  });

  it("refuses a second name beside a good one: a full address, a second Host, a forwarded one", async () => {
    expect(await ask("localhost", "http://evil.example/gate")).toBe(421);
    expect(await ask("localhost", "/", ["Host: evil.example"])).toBeGreaterThanOrEqual(400);
    process.env.SHELLGATE_FORWARDED = "1";
    expect(await ask("localhost", "/", ["X-Forwarded-Host: evil.example"])).toBe(421);
    expect(await ask("evil.example", "/", ["X-Forwarded-Host: localhost"])).toBe(421);
    expect(await ask("localhost", "/", ["X-Forwarded-Host: localhost"])).toBe(200);
  });

  it("does not believe a forwarded name where no proxy is configured", async () => {
    expect(await ask("localhost", "/", ["X-Forwarded-Host: evil.example"])).toBe(200);
    expect(passed.at(-1)?.forwardedHost).toBeUndefined();
  });

  it("answers under what was configured, and says how to configure it", async () => {
    const refusal = await send(["GET /api/v1/health HTTP/1.1", "Host: gate.plant.example"]);
    expect(refusal).toMatch(/421[\s\S]*application\/problem\+json[\s\S]*misdirected[\s\S]*SHELLGATE_OTHER_ORIGINS/);
    process.env.SHELLGATE_OTHER_ORIGINS = "https://gate.plant.example, http://192.168.1.9:3000";
    expect(await ask("gate.plant.example")).toBe(200);
    expect(await ask("192.168.1.9:3000")).toBe(200);
    expect(isKnownHost("192.168.1.8")).toBe(false);
    process.env.SHELLGATE_OTHER_ORIGINS = "gate.plant.example";
    expect(() => isKnownHost("x")).toThrow(/SHELLGATE_OTHER_ORIGINS must be addresses/);
  });

  it("are asked for by each route, too", async () => {
    const request = new Request("http://evil.example/api/v1/health", { headers: { host: "evil.example" } });
    const answer = await getHealth(request, { params: Promise.resolve({}) });
    expect(answer.status).toBe(421);
  });
});

describe("a page that fails", () => {
  it("because of the database says so by its status, any other failure stays one", async () => {
    const away = await send(["GET /page/away HTTP/1.1", "Host: localhost"]);
    expect(away).toMatch(/^HTTP\/1\.1 503 [\s\S]*retry-after: 5/i);
    expect(await ask("localhost", "/page/full")).toBe(507);
    expect(await ask("localhost", "/page/held")).toBe(503);
    await new Promise((resolve) => setTimeout(resolve, 5));
    expect(await ask("localhost", "/page/fault")).toBe(500);
    // Routes say it themselves.
    expect(await ask("localhost", "/api/v1/away")).toBe(500);
  });
});

describe("what is sent to pages", () => {
  const post = async (more: readonly string[], body = "x"): Promise<string> =>
    send(["POST /gate HTTP/1.1", "Host: localhost:3000", "Next-Action: 0", ...more], body);

  it("is refused in words where another site sent it", async () => {
    const evil = await post(["Origin: https://evil.example", "Content-Length: 1"]);
    expect(statusOf(evil)).toBe(403);
    expect(evil).toMatch(/content-type: text\/plain\r\n[\s\S]*This came from another site/);
    expect(statusOf(await post(["Origin: http://localhost:3000", "Content-Length: 1"]))).toBe(200);
    expect(statusOf(await post(["Origin: http://localhost:4000", "Content-Length: 1"]))).toBe(403);
    expect(statusOf(await post(["Origin: null", "Content-Length: 1"]))).toBe(403);
    expect(statusOf(await post(["Sec-Fetch-Site: cross-site", "Content-Length: 1"]))).toBe(403);
  });

  it("has its size said before, little from a visitor and 1 MB from who is signed in", async () => {
    const own = "Origin: http://localhost:3000";
    expect(statusOf(await post([own, "Transfer-Encoding: chunked"], "1\r\nx\r\n0\r\n\r\n"))).toBe(411);
    expect(statusOf(await post([own, `Content-Length: ${16 * 1024 + 1}`], ""))).toBe(413);
    expect(statusOf(await post([own, "Content-Length: 99999999999"], ""))).toBe(413);
    const forged = "Cookie: shellgate.session_token=abcdefghijklmnopqrstuvwxyz012345.AAAA";
    expect(statusOf(await post([own, forged, `Content-Length: ${2 ** 20}`], ""))).toBe(413);
    expect(passed).toEqual([]);
  });
});

describe("the body of a page's request", () => {
  const TEXT = "text/plain;charset=UTF-8";
  /** The cookie of somebody who is signed in, as the sign-in library signs it. */
  const signedIn = (): string => {
    const key = "k".repeat(32);
    const signature = createHmac("sha256", process.env.AUTH_SECRET ?? "")
      .update(key)
      .digest("base64");
    return `shellgate.session_token=${encodeURIComponent(`${key}.${signature}`)}`;
  };
  const post = (body: string, type = TEXT, target = "/page", more = {}) =>
    new Promise<{ status: number; text: string }>((resolve, reject) => {
      const headers = {
        host: "localhost",
        origin: "http://localhost:3000",
        cookie: signedIn(),
        "content-type": type,
        "content-length": Buffer.byteLength(body),
        ...more,
      };
      const call = http.request({ port, host: "127.0.0.1", path: target, method: "POST", headers }, (response) => {
        let text = "";
        response.setEncoding("utf8").on("data", (part: string) => (text += part));
        response.on("end", () => resolve({ status: response.statusCode ?? 0, text }));
      });
      call.on("error", reject);
      call.end(body);
    });

  it.each([1, 100, 20_000, 300_000, 1_000_000])("comes through whole, %i bytes", async (length) => {
    for (const body of ["x".repeat(length), `["${'[{"'.repeat(length / 3).replaceAll('"', "'")}"]`.slice(0, 2 ** 20)])
      if (Buffer.byteLength(body) <= 2 ** 20 && body.length > 0)
        expect(await post(body)).toEqual({ status: 200, text: `in ${Buffer.byteLength(body)}` });
  });

  it.each([
    ["inside one another", "[".repeat(8000) + "]".repeat(8000)],
    ["inside one another, never closed", "[".repeat(1_000_000)],
    ["objects inside one another", `${'{"a":'.repeat(100_000)}1${"}".repeat(100_000)}`],
    ["side by side", `[${Array(300_000).fill("[]").join()}]`],
    ["names", `[{${Array.from({ length: 50_000 }, (_, at) => `"k${at}":1`).join()}}]`],
  ])("never reaches the framework with more brackets than it can read at once: %s", async (_, body) => {
    const form = `--x\r\ncontent-disposition: form-data; name="0"\r\n\r\n"${body}\r\n--x--\r\n`;
    for (const [sent, type] of [
      [body, TEXT],
      [form, "multipart/form-data; boundary=x"],
    ] as const) {
      const { status, text } = await post(sent, type);
      expect([400, 413]).toContain(status);
      expect(text).toMatch(/(?:lists|named members).*Nothing was kept; send/);
    }
    expect(passed).toEqual([]);
  });

  it.each(["[", "[1,", "{", "[1]x", "\u0000", "nothing"])(
    "of an action is refused where it is no JSON: %j",
    async (body) => {
      const { status, text } = await post(body, TEXT, "/page", { "next-action": "0".repeat(40) });
      expect([status, text]).toEqual([400, expect.stringMatching(/not valid JSON.*Nothing was kept/)]);
      expect((await post(JSON.stringify([{ a: body }]), TEXT, "/page", { "next-action": "0".repeat(40) })).status).toBe(
        200,
      );
    },
  );

  it("serves several requests of one connection one after the other", async () => {
    const agent = new http.Agent({ keepAlive: true, maxSockets: 1 });
    const each = Array.from({ length: 20 }, (_, at) => "y".repeat(1 + at * 7000));
    const answers = await Promise.all(
      each.map(
        (body) =>
          new Promise<string>((resolve, reject) => {
            const headers = {
              host: "localhost",
              origin: "http://localhost:3000",
              cookie: signedIn(),
              "content-type": TEXT,
              "content-length": body.length,
            };
            const call = http.request(
              { agent, port, host: "127.0.0.1", path: "/page", method: "POST", headers },
              (response) => {
                let text = "";
                response.setEncoding("utf8").on("data", (part: string) => (text += part));
                response.on("end", () => resolve(text));
              },
            );
            call.on("error", reject);
            call.end(body);
          }),
      ),
    );
    expect(answers).toEqual(each.map((body) => `in ${body.length}`));
    agent.destroy();
  });
});
