import { execFile } from "node:child_process";
import { X509Certificate } from "node:crypto";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import http from "node:http";
import https from "node:https";
import type { AddressInfo } from "node:net";
import os from "node:os";
import path from "node:path";
import tls from "node:tls";
import { promisify } from "node:util";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from "vitest";
import { checkLanName, ensurePlantCertificate, readOwnCertificate } from "@/lib/cli/tls";
import { startTlsFront, type TlsFront } from "@/lib/cli/tls-front";

const DAY_MS = 86_400_000;
const base = mkdtempSync(path.join(os.tmpdir(), "shellgate-tls-"));
const now = new Date("2026-11-25T08:00:00Z");
let folder = "";
let number = 0;

beforeEach(() => {
  number += 1;
  folder = path.join(base, String(number));
});
afterAll(() => rmSync(base, { recursive: true, force: true }));

const parse = (pem: string | null): X509Certificate => new X509Certificate(pem ?? "");

describe("ensurePlantCertificate", () => {
  const names = ["gate.plant.test", "localhost", "127.0.0.1", "::1", "fd00::1:2"];

  test("makes an authority and a certificate for names and addresses that it signed", async () => {
    const material = await ensurePlantCertificate(folder, names, now);
    const [authority, leaf] = [parse(material.authorityPem), parse(material.certificate)];
    expect(authority.ca).toBe(true);
    expect(leaf.ca).toBe(false);
    expect(leaf.checkIssued(authority)).toBe(true);
    expect(leaf.verify(authority.publicKey)).toBe(true);
    expect(leaf.checkHost("gate.plant.test")).toBe("gate.plant.test");
    expect(["127.0.0.1", "::1", "fd00::1:2"].map((address) => leaf.checkIP(address))).not.toContain(undefined);
    expect(leaf.checkHost("other.plant.test")).toBeUndefined();
    expect(material.fingerprint).toBe(authority.fingerprint256);
  });

  test("is valid for less than 398 days", async () => {
    const leaf = parse((await ensurePlantCertificate(folder, names, now)).certificate);
    const days = (Date.parse(leaf.validTo) - Date.parse(leaf.validFrom)) / DAY_MS;
    expect(days).toBeGreaterThan(390);
    expect(days).toBeLessThan(398);
  });

  test("keeps the keys to their owner", async () => {
    await ensurePlantCertificate(folder, names, now);
    for (const name of ["plant-ca.key", "server.key"]) {
      expect(statSync(path.join(folder, "tls", name)).mode & 0o777).toBe(0o600);
    }
  });

  test("stays the same until 30 days before its end, then renews under the same authority", async () => {
    const first = await ensurePlantCertificate(folder, names, now);
    expect(await ensurePlantCertificate(folder, names, new Date(now.getTime() + 365 * DAY_MS))).toEqual(first);
    const later = await ensurePlantCertificate(folder, names, new Date(now.getTime() + 368 * DAY_MS));
    expect(later.authorityPem).toBe(first.authorityPem);
    expect(later.certificate).not.toBe(first.certificate);
    expect(parse(later.certificate).verify(parse(first.authorityPem).publicKey)).toBe(true);
  });

  test("makes a new certificate for a new name and after a file was cut off", async () => {
    const first = await ensurePlantCertificate(folder, names, now);
    const second = await ensurePlantCertificate(folder, [...names, "192.0.2.77"], now);
    expect(second.certificate).not.toBe(first.certificate);
    writeFileSync(path.join(folder, "tls/server.crt"), "-----BEGIN");
    expect(parse((await ensurePlantCertificate(folder, names, now)).certificate).checkHost(names[0] ?? "")).toBe(
      names[0],
    );
  });
});

describe("an authority that the version before made", () => {
  test("is gone on with: tablets that trust it need nothing", async () => {
    const former = readFileSync(path.join(import.meta.dirname, "../../helpers/former-authority.pem"), "utf8");
    const [keyPem = "", certificatePem = ""] = former.split(/(?=-----BEGIN CERTIFICATE)/);
    mkdirSync(path.join(folder, "tls"), { recursive: true });
    writeFileSync(path.join(folder, "tls/plant-ca.key"), keyPem);
    writeFileSync(path.join(folder, "tls/plant-ca.crt"), certificatePem);
    const material = await ensurePlantCertificate(folder, ["gate.plant.test"], now);
    const [authority, leaf] = [parse(certificatePem), parse(material.certificate)];
    expect(material.authorityPem).toBe(certificatePem);
    expect(leaf.checkIssued(authority)).toBe(true);
    expect(leaf.verify(authority.publicKey)).toBe(true);
  });
});

describe("what a certificate says", () => {
  /** As openssl reads it, which stands for the browsers. */
  const text = async (certificate: string): Promise<string> => {
    const file = path.join(base, `${number}.pem`);
    writeFileSync(file, certificate);
    return (await promisify(execFile)("openssl", ["x509", "-in", file, "-noout", "-text"])).stdout;
  };

  // RFC 5280: 4.2.1.1 to 4.2.1.3, 4.2.1.6, 4.2.1.9, 4.2.1.12; 4.1.2.5 for the years from 2050 on.
  test("is what RFC 5280 asks of an authority and of a server", async () => {
    const late = new Date("2049-06-01T00:00:00Z");
    const material = await ensurePlantCertificate(folder, ["gate.plant.test", "192.0.2.9", "fd00::1:2"], late);
    const authority = await text(material.authorityPem ?? "");
    expect(authority).toMatch(/Version: 3/);
    expect(authority).toMatch(/Signature Algorithm: ecdsa-with-SHA256/);
    expect(authority).toMatch(/Basic Constraints: critical\s+CA:TRUE, pathlen:0/);
    expect(authority).toMatch(/Key Usage: critical\s+Certificate Sign, CRL Sign/);
    expect(authority).toMatch(/Not After : .* 2059 GMT/);
    const server = await text(material.certificate);
    expect(server).toMatch(/Basic Constraints: critical\s+CA:FALSE/);
    expect(server).toMatch(/Key Usage: critical\s+Digital Signature/);
    expect(server).toMatch(/Extended Key Usage: ?\s+TLS Web Server Authentication/);
    expect(server).toMatch(/DNS:gate\.plant\.test, IP Address:192\.0\.2\.9, IP Address:FD00:0:0:0:0:0:1:2/);
    const own = /Subject Key Identifier: ?\s+([0-9A-F:]+)/.exec(authority)?.[1];
    expect(/Authority Key Identifier: ?\s+(?:keyid:)?([0-9A-F:]+)/.exec(server)?.[1]).toBe(own);
    expect(/Serial Number:\s+([0-9a-f:]+)/.exec(server)?.[1]?.split(":")).toHaveLength(16);
  });
});

describe("checkLanName", () => {
  test("takes host names and addresses and refuses what no tablet can open", () => {
    expect(["Gate.Plant.Test", "gate", "192.0.2.7", "fd00::7"].map(checkLanName)).toEqual([
      "gate.plant.test",
      "gate",
      "192.0.2.7",
      "fd00::7",
    ]);
    for (const name of ["", "a b", "https://gate", "gate:3000", "-gate", "gate_1", "x".repeat(64)]) {
      expect(() => checkLanName(name)).toThrow(/is not a name that tablets can open/);
    }
  });
});

describe("readOwnCertificate", () => {
  test("takes a certificate with its key and tells its names", async () => {
    await ensurePlantCertificate(folder, ["own.plant.test", "192.0.2.9"], now);
    const files = ["server.crt", "server.key"].map((name) => path.join(folder, "tls", name));
    const own = readOwnCertificate(files[0] ?? "", files[1] ?? "", now);
    expect(own.names).toEqual(["own.plant.test", "192.0.2.9"]);
    expect(own.material.authorityPem).toBeNull();
  });

  test("names the file that is missing, does not fit or has ended", async () => {
    await ensurePlantCertificate(folder, ["own.plant.test"], now);
    const file = (name: string): string => path.join(folder, "tls", name);
    expect(() => readOwnCertificate(file("none.crt"), file("server.key"), now)).toThrow(
      /none\.crt that TLS_CERT names cannot be read/,
    );
    expect(() => readOwnCertificate(file("server.crt"), file("plant-ca.key"), now)).toThrow(
      /are not a certificate and its key/,
    );
    const afterEnd = new Date(now.getTime() + 500 * DAY_MS);
    expect(() => readOwnCertificate(file("server.crt"), file("server.key"), afterEnd)).toThrow(/ended on/);
  });
});

describe("the TLS front", () => {
  const names = ["gate.plant.test", "127.0.0.1"];
  let app: http.Server;
  let front: TlsFront;
  let authority = "";
  let seen: http.IncomingHttpHeaders = {};
  let closedByVisitor: Promise<void>;

  beforeAll(async () => {
    app = http.createServer((request, response) => {
      seen = request.headers;
      if (request.url === "/events") {
        response.writeHead(200, { "content-type": "text/event-stream" });
        response.flushHeaders();
        const timer = setInterval(() => response.write(`data: ${Date.now()}\n\n`), 50);
        closedByVisitor = new Promise((resolve) => response.on("close", () => (clearInterval(timer), resolve())));
        return;
      }
      if (request.url === "/broken") {
        response.writeHead(200, { "content-length": "100" });
        response.write("half");
        setTimeout(() => response.destroy(), 20);
        return;
      }
      let length = 0;
      request.on("data", (chunk: Buffer) => (length += chunk.length));
      request.on("end", () => {
        response.writeHead(request.url === "/refuse" ? 409 : 200, { "set-cookie": ["a=1", "b=2"], "x-length": length });
        response.end(`${request.method} ${request.url}`);
      });
    });
    await new Promise<void>((resolve) => app.listen(0, "127.0.0.1", resolve));
    const material = await ensurePlantCertificate(path.join(base, "front"), names, new Date());
    authority = material.authorityPem ?? "";
    const targetPort = (app.address() as AddressInfo).port;
    front = await startTlsFront({ material, port: 0, targetPort, host: "127.0.0.1" });
  });
  afterAll(async () => {
    await front.close();
    app.closeAllConnections();
    await new Promise((resolve) => app.close(resolve));
  });
  afterEach(() => {
    seen = {};
  });

  type Answer = { status: number; headers: http.IncomingHttpHeaders; body: string };
  const options = (url: string, extra: https.RequestOptions = {}): https.RequestOptions => ({
    host: "127.0.0.1",
    port: front.port,
    path: url,
    servername: "gate.plant.test",
    ca: authority,
    ...extra,
  });
  const ask = (url: string, extra: https.RequestOptions = {}, body?: Buffer): Promise<Answer> =>
    new Promise((resolve, reject) => {
      const request = https.request(options(url, extra), (response) => {
        let text = "";
        response.on("data", (chunk: Buffer) => (text += chunk.toString()));
        response.on("error", reject);
        response.on("end", () => resolve({ status: response.statusCode ?? 0, headers: response.headers, body: text }));
      });
      request.on("error", reject);
      request.end(body);
    });

  test("passes requests on, with their status, their cookies and their body", async () => {
    const answer = await ask("/x?y=%20z", { method: "POST" }, Buffer.alloc(3_000_000, 1));
    expect(answer).toMatchObject({ status: 200, body: "POST /x?y=%20z" });
    expect(answer.headers).toMatchObject({ "set-cookie": ["a=1", "b=2"], "x-length": "3000000" });
    expect((await ask("/refuse")).status).toBe(409);
  });

  test("says where the visitor comes from and drops what it claims about that", async () => {
    const headers = {
      host: "gate.plant.test:3000",
      forwarded: "for=6.6.6.6",
      "x-forwarded-for": "6.6.6.6",
      "x-forwarded-host": "evil.test",
      "x-forwarded-prefix": "/evil",
      "x-real-ip": "6.6.6.6",
      connection: "keep-alive, x-secret-hop",
      "x-secret-hop": "1",
    };
    await ask("/", { headers });
    expect(seen).toMatchObject({
      host: "gate.plant.test:3000",
      "x-forwarded-for": "127.0.0.1",
      "x-forwarded-proto": "https",
      "x-forwarded-host": "gate.plant.test:3000",
      "x-forwarded-port": String(front.port),
    });
    for (const name of ["forwarded", "x-forwarded-prefix", "x-real-ip", "x-secret-hop"])
      expect(seen).not.toHaveProperty(name);
  });

  test("streams server-sent events as they come and tells the application when the visitor leaves", async () => {
    // The stream does not end by itself: had the front gathered it, nothing would come.
    const first = await new Promise<string>((resolve, reject) => {
      const request = https.get(options("/events"), (response) => {
        response.once("data", (bytes: Buffer) => {
          resolve(bytes.toString());
          request.destroy();
        });
      });
      request.on("error", reject);
    });
    expect(first).toMatch(/^data: \d+\n\n/);
    await closedByVisitor;
  });

  test("serves the authority's certificate for download", async () => {
    const answer = await ask("/plant-ca.crt");
    expect(answer.headers["content-type"]).toBe("application/x-x509-ca-cert");
    expect(parse(answer.body).fingerprint256).toBe(parse(authority).fingerprint256);
  });

  test("breaks off when the application breaks off, so that half an answer is not taken for a whole one", async () => {
    await expect(ask("/broken")).rejects.toThrow(/aborted|socket hang up|ECONNRESET/);
  });

  test("answers 502 in words while the application is away", async () => {
    const material = await ensurePlantCertificate(path.join(base, "front"), names, new Date());
    const lonely = await startTlsFront({ material, port: 0, targetPort: 9, host: "127.0.0.1" });
    const answer = await ask("/", { port: lonely.port });
    await lonely.close();
    expect(answer).toMatchObject({ status: 502 });
    expect(answer.body).toMatch(/starting or stopping/);
  });

  test("refuses TLS older than 1.2 and plain HTTP", async () => {
    const old = new Promise((resolve, reject) => {
      const socket = tls.connect({
        port: front.port,
        host: "127.0.0.1",
        ca: authority,
        maxVersion: "TLSv1.1",
        minVersion: "TLSv1",
      });
      socket.on("secureConnect", resolve);
      socket.on("error", reject);
    });
    await expect(old).rejects.toThrow();
    await expect(fetch(`http://127.0.0.1:${front.port}/`)).rejects.toThrow();
  });

  test("answers with a renewed certificate from then on", async () => {
    const renewed = await ensurePlantCertificate(path.join(base, "renewed"), names, new Date());
    front.replace(renewed);
    expect((await ask("/", { ca: renewed.authorityPem ?? "" })).status).toBe(200);
    await expect(ask("/", { agent: new https.Agent() })).rejects.toThrow();
    authority = readFileSync(path.join(base, "renewed/tls/plant-ca.crt"), "utf8");
  });
});
