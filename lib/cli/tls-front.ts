import http from "node:http";
import https from "node:https";
import type { Duplex } from "node:stream";
import type { AddressInfo } from "node:net";
import type { TlsMaterial } from "./tls";

/** Where a tablet fetches the plant's authority to trust it. */
export const AUTHORITY_PATH = "/plant-ca.crt";

export type TlsFront = {
  readonly port: number;
  readonly replace: (material: TlsMaterial) => void;
  readonly close: () => Promise<void>;
};

// RFC 9110, 7.6.1: of one connection only, never passed on.
const HOP_BY_HOP = new Set([
  "connection",
  "keep-alive",
  "proxy-authenticate",
  "proxy-authorization",
  "proxy-connection",
  "te",
  "trailer",
  "transfer-encoding",
  "upgrade",
]);
/** What a visitor may not claim about where it comes from. */
const CLAIMED = /^(forwarded|x-forwarded-.*|x-real-ip|x-client-ip|true-client-ip|cf-connecting-ip)$/;

function passedOn(headers: http.IncomingHttpHeaders): http.OutgoingHttpHeaders {
  const named = new Set(
    String(headers.connection ?? "")
      .toLowerCase()
      .split(",")
      .map((name) => name.trim()),
  );
  return Object.fromEntries(
    Object.entries(headers).filter(([name]) => !HOP_BY_HOP.has(name) && !named.has(name) && !CLAIMED.test(name)),
  );
}

function requestHeaders(request: http.IncomingMessage, port: number): http.OutgoingHttpHeaders {
  const host = request.headers.host ?? "";
  return {
    ...passedOn(request.headers),
    "x-forwarded-for": request.socket.remoteAddress?.replace(/^::ffff:/, "") ?? "",
    "x-forwarded-proto": "https",
    "x-forwarded-host": host,
    "x-forwarded-port": String(port),
  };
}

function answerAuthority(response: http.ServerResponse, pem: string): void {
  response.writeHead(200, {
    "content-type": "application/x-x509-ca-cert",
    "content-disposition": 'attachment; filename="plant-ca.crt"',
    "cache-control": "no-store",
  });
  response.end(pem);
}

/** A page of another site whose name was made to lead here is told nothing more. */
function answerMisdirected(response: http.ServerResponse): void {
  response.writeHead(421, { "content-type": "text/plain; charset=utf-8", connection: "close" });
  response.end("Shellgate does not answer under this name. Use the address that the start command shows.\n");
}

function answerUnavailable(response: http.ServerResponse): void {
  if (response.headersSent) {
    response.destroy();
    return;
  }
  response.writeHead(502, { "content-type": "text/plain; charset=utf-8", "retry-after": "2" });
  response.end("Shellgate is starting or stopping. Nothing was recorded; try again in a moment.\n");
}

/** Raw bytes in both directions, for the development server's socket. */
function passUpgrade(request: http.IncomingMessage, socket: Duplex, head: Buffer, options: http.RequestOptions): void {
  const upstream = http.request({ ...options, agent: false });
  const end = (): void => {
    socket.destroy();
    upstream.destroy();
  };
  socket.on("error", end);
  upstream.on("error", end);
  upstream.on("response", end);
  upstream.on("upgrade", (response, upstreamSocket, upstreamHead) => {
    const lines = response.rawHeaders.flatMap((name, at, all) =>
      at % 2 === 0 ? [`${name}: ${all[at + 1] ?? ""}`] : [],
    );
    socket.write(`HTTP/1.1 101 Switching Protocols\r\n${lines.join("\r\n")}\r\n\r\n`);
    socket.write(upstreamHead);
    upstreamSocket.write(head);
    upstreamSocket.on("error", end);
    socket.pipe(upstreamSocket).pipe(socket);
  });
  upstream.end();
}

/**
 * Answers HTTPS on all addresses of the machine and passes requests on to the application on the loopback address, as they
 * come in: nothing is collected, so uploads and server-sent events stream.
 */
export async function startTlsFront(options: {
  readonly material: TlsMaterial;
  readonly port: number;
  readonly targetPort: number;
  readonly host?: string;
  /** Whether a Host header is one of the plant's names; the application asks it again of what is passed on. */
  readonly isKnownHost?: (host: string) => boolean;
}): Promise<TlsFront> {
  const { port: askedPort, targetPort, host, isKnownHost = () => true } = options;
  let { authorityPem } = options.material;
  const agent = new http.Agent({ keepAlive: true, maxFreeSockets: 64 });
  const { key, certificate } = options.material;
  const server = https.createServer({ key, cert: certificate, minVersion: "TLSv1.2", keepAliveTimeout: 65_000 });
  let port = askedPort;

  const target = (request: http.IncomingMessage): http.RequestOptions => ({
    host: "127.0.0.1",
    port: targetPort,
    method: request.method,
    path: request.url,
    headers: requestHeaders(request, port),
    agent,
  });

  server.on("request", (request: http.IncomingMessage, response: http.ServerResponse) => {
    if (!isKnownHost(request.headers.host ?? "localhost")) {
      answerMisdirected(response);
      return;
    }
    if (authorityPem !== null && request.url === AUTHORITY_PATH) {
      answerAuthority(response, authorityPem);
      return;
    }
    const upstream = http.request(target(request), (answer) => {
      response.writeHead(answer.statusCode ?? 502, passedOn(answer.headers));
      // The first event of a stream may be long in coming: the visitor must know now that it is open.
      response.flushHeaders();
      answer.pipe(response);
      answer.on("error", () => response.destroy());
    });
    upstream.on("error", () => answerUnavailable(response));
    response.on("close", () => upstream.destroy());
    request.on("error", () => upstream.destroy());
    request.pipe(upstream);
  });

  server.on("upgrade", (request: http.IncomingMessage, socket: Duplex, head: Buffer) => {
    if (!isKnownHost(request.headers.host ?? "localhost")) {
      socket.destroy();
      return;
    }
    const options = target(request);
    const headers = {
      ...(options.headers as http.OutgoingHttpHeaders),
      connection: "Upgrade",
      upgrade: request.headers.upgrade,
    };
    passUpgrade(request, socket, head, { ...options, headers });
  });

  await new Promise<void>((resolve, reject) => {
    server.once("error", reject);
    server.listen(askedPort, host, resolve);
  });
  port = (server.address() as AddressInfo).port;
  return {
    port,
    replace: (material) => {
      authorityPem = material.authorityPem;
      server.setSecureContext({ key: material.key, cert: material.certificate });
    },
    close: async () => {
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      server.closeAllConnections();
      agent.destroy();
      await closed;
    },
  };
}
