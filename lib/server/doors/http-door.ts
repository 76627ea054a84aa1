import "server-only";
import { subscribe } from "node:diagnostics_channel";
import type { IncomingMessage, Server, ServerResponse } from "node:http";
import type { Duplex } from "node:stream";
import { APP_ERROR_STATUS, AppError } from "../../errors";
import { assertKnownHost, namedHosts } from "../auth/known-hosts";
import { assertNotForged } from "../auth/request-origin";
import { sessionKey } from "../auth/session-cookie";
import { environment } from "../base/env";
import { assertReadable, parseJson } from "../base/request-body";
import { failureOf } from "./failure";
import { lookAhead } from "./look-ahead";
import { troubleSince } from "./trouble";
import { watchRequest } from "./watch-request";
import { DOORS_WORDS } from "./words";

const texts = DOORS_WORDS.httpDoor;

/** Bytes that a form or an action may send; what each of them takes is said where it is made. */
const ACTION_BYTES = 2 ** 20;
/** Bytes that a visitor may send to a page: a sign-in, the first set-up. */
const VISITOR_BYTES = 16 * 1024;

/** Lists, objects and members of a form or an action: the framework takes ten times as long for them as reading them takes. */
const ACTION_PARTS = 20_000;

/** What a visitor may not claim about where it comes from, unless a proxy of ours says it. */
const CLAIMS = ["x-forwarded-host", "x-forwarded-proto", "x-forwarded-port", "forwarded"];

const isForPrograms = (request: IncomingMessage): boolean => /^(?:https?:\/\/[^/]*)?\/api\//.test(request.url ?? "");

/** The parts of a request that decide where it came from, as the Fetch standard names them. */
const asFetch = ({ method = "GET", headers }: IncomingMessage) => ({
  method,
  headers: { get: (name: string) => headers[name]?.toString() ?? null, has: (name: string) => name in headers },
});

/**
 * Bodies of pages and actions: their size has to be said before, since the framework reads them whole.
 *
 * @throws AppError length-required, too-large
 */
function assertBodyFits(request: IncomingMessage): void {
  const { headers, method = "GET" } = request;
  if (isForPrograms(request) || method === "GET" || method === "HEAD") return;
  if (headers["transfer-encoding"] !== undefined) throw new AppError("length-required", texts.sayHowLongBody);
  const isVisitor = sessionKey(new Headers({ cookie: headers.cookie ?? "" })) === null;
  const most = isVisitor ? VISITOR_BYTES : ACTION_BYTES;
  if (Number(headers["content-length"] ?? 0) <= most) return;
  const words = isVisitor ? texts.isMoreThanSomebody : texts.isMoreThan1Mb;
  throw new AppError("too-large", words, { details: { maxBytes: most } });
}

/** Bytes of a body that the framework will read into lists and objects before anybody of ours sees it; 0 where there are none. */
function bytesToRead(event: string, request: IncomingMessage): number {
  const { headers, method = "GET" } = request;
  if (event !== "request" || isForPrograms(request) || method === "GET" || method === "HEAD") return 0;
  return Number(headers["content-length"] ?? 0);
}

/**
 * What the framework could not read, it answers as if we had failed: brackets without end, and an action that is no JSON.
 *
 * @throws AppError invalid-input, too-large
 */
function assertBodyReads({ headers }: IncomingMessage, body: Buffer): void {
  const isText = /^text\/plain\b/i.test(headers["content-type"] ?? "");
  if (isText && "next-action" in headers) parseJson(body, ACTION_PARTS);
  else assertReadable(body, { mostParts: ACTION_PARTS, isMixed: !isText });
}

/** @throws AppError misdirected, forbidden, length-required, too-large */
function assertMayEnter(request: IncomingMessage): void {
  const { headers, rawHeaders, url = "" } = request;
  const hosts = rawHeaders.filter((name, at) => at % 2 === 0 && name.toLowerCase() === "host");
  if (hosts.length > 1) throw new AppError("misdirected", texts.requestHasOneHost);
  assertKnownHost(namedHosts(headers, url));
  // Routes for programs look at it themselves: whoever brings a token is not a browser.
  if (!isForPrograms(request)) assertNotForged(asFetch(request));
  assertBodyFits(request);
}

/** The refusal as a program or a page reads it; a page's own script shows plain text as it is. */
function refuse(request: IncomingMessage, response: ServerResponse, thrown: unknown): void {
  const { error } = failureOf(thrown, { where: "door", method: request.method });
  const status = APP_ERROR_STATUS[error.code];
  const problem = {
    type: `urn:shellgate:problem:${error.code}`,
    title: error.code.replaceAll("-", " "),
    status,
    detail: error.userMessage,
    code: error.code,
  };
  const program = isForPrograms(request);
  response.writeHead(status, {
    "content-type": program ? "application/problem+json" : "text/plain",
    "cache-control": "no-store",
    "x-content-type-options": "nosniff",
    // What is still to come of the body is not waited for.
    connection: "close",
  });
  response.end(program ? JSON.stringify(problem) : `${error.userMessage}\n`);
}

const STATUS_OF_TROUBLE = { unreachable: 503, busy: 503, full: 507 } as const;

/** A page that fails because of the database says so by its status: the framework knows 500 only. */
function sayTrouble(response: ServerResponse): void {
  const begunMs = Date.now();
  const write = response.writeHead.bind(response) as (...rest: unknown[]) => ServerResponse;
  response.writeHead = (status: number, ...rest: unknown[]): ServerResponse => {
    const trouble = status === 500 ? troubleSince(begunMs) : null;
    if (trouble === null) return write(status, ...rest);
    response.setHeader("retry-after", "5");
    return write(STATUS_OF_TROUBLE[trouble], ...rest);
  };
}

/** Stands before the listeners of a server: what is refused never reaches the framework. */
function standBefore(server: Server): void {
  const pass = server.emit.bind(server) as (event: string | symbol, ...rest: unknown[]) => boolean;
  server.emit = (event: string | symbol, ...rest: unknown[]): boolean => {
    if (event !== "request" && event !== "checkContinue" && event !== "checkExpectation" && event !== "upgrade")
      return pass(event, ...rest);
    const [request, answer] = rest as [IncomingMessage, ServerResponse | Duplex];
    return event === "upgrade"
      ? enter(event, rest)
      : watchRequest(request, answer as ServerResponse, () => enter(event, rest));
  };
  const enter = (event: string, rest: unknown[]): boolean => {
    const [request, answer] = rest as [IncomingMessage, ServerResponse | Duplex];
    try {
      assertMayEnter(request);
      if (event !== "upgrade" && !isForPrograms(request)) sayTrouble(answer as ServerResponse);
      if (!environment("SHELLGATE_FORWARDED")) for (const claim of CLAIMS) delete request.headers[claim];
    } catch (error) {
      if (event === "upgrade") (answer as Duplex).end("HTTP/1.1 421 Misdirected Request\r\nconnection: close\r\n\r\n");
      else refuse(request, answer as ServerResponse, error);
      return true;
    }
    const length = bytesToRead(event, request);
    if (length === 0) return pass(event, ...rest);
    lookAhead(
      request,
      length,
      (body) => assertBodyReads(request, body),
      () => pass(event, ...rest),
      (error) => refuse(request, answer as ServerResponse, error),
    );
    return true;
  };
}

const guarded = new WeakSet<Server>();

/** From its first request on, every HTTP server of this process refuses strangers' names, forged changes and endless bodies. */
export function guardDoor(): void {
  subscribe("http.server.request.start", (message) => {
    const { server } = message as { server: Server };
    if (guarded.has(server)) return;
    guarded.add(server);
    standBefore(server);
  });
}
