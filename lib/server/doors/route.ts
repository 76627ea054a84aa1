import "server-only";
import { randomUUID } from "node:crypto";
import { unstable_rethrow } from "next/navigation";
import type { z } from "zod";
import { APP_ERROR_STATUS, AppError } from "../../errors";
import { assertKnownHost } from "../auth/known-hosts";
import { assertNotForged } from "../auth/request-origin";
import { viewerFromRequest } from "../auth/session";
import type { Viewer } from "../auth/viewer";
import { failureOf } from "./failure";
import { parseInput } from "../base/parse-input";
import { readJsonBody } from "../base/request-body";
import { DOORS_WORDS } from "./words";

const texts = DOORS_WORDS.route;

type Schemas = { readonly params?: z.ZodType; readonly query?: z.ZodType; readonly body?: z.ZodType };
type Parsed<S extends Schemas, K extends keyof Schemas> = S[K] extends z.ZodType ? z.output<S[K]> : undefined;

export type RouteInput<A extends "viewer" | "public", S extends Schemas> = {
  readonly viewer: A extends "viewer" ? Viewer : null;
  readonly params: Parsed<S, "params">;
  readonly query: Parsed<S, "query">;
  readonly body: Parsed<S, "body">;
  readonly request: Request;
  readonly requestId: string;
};

export type RouteDefinition<A extends "viewer" | "public", S extends Schemas> = {
  /** "viewer": a session cookie or an API token is needed. "public": everybody may ask. */
  readonly auth: A;
  readonly schemas?: S;
  /** Bytes of body at most; 2 MB unless said. */
  readonly maxBodyBytes?: number;
  /** The handler checks the texts of each part of the body by itself, so that one bad part keeps nothing else out. */
  readonly partsByThemselves?: boolean;
  /** A Response goes out as it is, anything else as JSON with status 200. */
  readonly handler: (input: RouteInput<A, S>) => unknown;
};

type RouteContext = { readonly params: Promise<Record<string, string | string[] | undefined>> };

const REQUEST_ID = /^[A-Za-z0-9._-]{8,64}$/;

/** Parameters by name; one that occurs several times is a list. */
function queryFields(url: string): Record<string, string | string[]> {
  const query = new URL(url).searchParams;
  return Object.fromEntries(
    [...new Set(query.keys())].map((name) => {
      const values = query.getAll(name);
      return [name, values.length === 1 ? (values[0] ?? "") : values];
    }),
  );
}

function jsonResponse(body: unknown, status: number, headers: Record<string, string>): Response {
  return new Response(JSON.stringify(body), { status, headers: { "cache-control": "no-store", ...headers } });
}

/** An error as RFC 9457 lays it down, with our code and the request's number. */
function problemResponse(thrown: unknown, request: Request, requestId: string): Response {
  const context = { where: "route", requestId, method: request.method, path: new URL(request.url).pathname };
  const { error, eventId } = failureOf(thrown, context);
  const status = APP_ERROR_STATUS[error.code];
  const problem = {
    type: `urn:shellgate:problem:${error.code}`,
    title: error.code.replaceAll("-", " "),
    status,
    detail: error.userMessage,
    code: error.code,
    requestId,
    ...(error.fields.length === 0 ? {} : { fields: error.fields }),
    ...(Object.keys(error.details).length === 0 ? {} : { details: error.details }),
    ...(eventId === undefined ? {} : { eventId }),
  };
  const { retryAfterSeconds } = error.details;
  const headers: Record<string, string> = { "content-type": "application/problem+json", "x-request-id": requestId };
  if (typeof retryAfterSeconds === "number") headers["retry-after"] = String(retryAfterSeconds);
  if (status === 401) headers["www-authenticate"] = "Bearer";
  return jsonResponse(problem, status, headers);
}

async function readViewer(request: Request, auth: "viewer" | "public"): Promise<Viewer | null> {
  const bearer = request.headers.has("authorization");
  const host = request.headers.get("host");
  if (host !== null) assertKnownHost([host]);
  if (!bearer) assertNotForged(request);
  if (auth === "public") return null;
  const viewer = await viewerFromRequest(request);
  if (viewer !== null) return viewer;
  const words = bearer ? texts.apiTokenIsUnknown : texts.signIn;
  throw new AppError("not-signed-in", words);
}

/** What the handler answered, with the request's number on it. */
function answer(result: unknown, requestId: string): Response {
  if (!(result instanceof Response)) {
    return jsonResponse(result ?? null, 200, { "content-type": "application/json", "x-request-id": requestId });
  }
  // A copy: the headers of a Response.redirect cannot be changed.
  const headers = new Headers(result.headers);
  headers.set("x-request-id", requestId);
  return new Response(result.body, { status: result.status, statusText: result.statusText, headers });
}

/**
 * Makes a route handler: who asks, forged requests refused, zod on params, query and body, call, errors as
 * application/problem+json, log. What the viewer may do is the command's matter; keep the handler under 25 lines.
 */
export function defineRoute<A extends "viewer" | "public", S extends Schemas = Record<never, never>>(
  definition: RouteDefinition<A, S>,
): (request: Request, context: RouteContext) => Promise<Response> {
  const { auth, schemas, maxBodyBytes, partsByThemselves: textsLater = false, handler } = definition;
  return async (request, context) => {
    const sent = request.headers.get("x-request-id");
    const requestId = sent !== null && REQUEST_ID.test(sent) ? sent : randomUUID();
    try {
      const viewer = await readViewer(request, auth);
      const input = {
        viewer,
        params: schemas?.params && parseInput(schemas.params, await context.params),
        query: schemas?.query && parseInput(schemas.query, queryFields(request.url)),
        body: schemas?.body && parseInput(schemas.body, await readJsonBody(request, maxBodyBytes), { textsLater }),
        request,
        requestId,
      };
      return answer(await handler(input as RouteInput<A, S>), requestId);
    } catch (error) {
      unstable_rethrow(error);
      return problemResponse(error, request, requestId);
    }
  };
}

const METHODS = ["GET", "POST", "PUT", "PATCH", "DELETE"] as const;
type Method = (typeof METHODS)[number];

/**
 * Handlers for every method but the one that a route takes: what was sent is refused in words, and OPTIONS says what is
 * allowed (RFC 9110, 9.3.7 and 15.5.6).
 *
 * @example export const { GET, PUT, PATCH, DELETE, OPTIONS } = refuseOthers("POST");
 */
export function refuseOthers<M extends "GET" | "POST">(
  allowed: M,
): Record<Exclude<Method, M> | "OPTIONS", (request: Request) => Response> {
  const allow = allowed === "GET" ? "GET, HEAD, OPTIONS" : `${allowed}, OPTIONS`;
  const refuse = (request: Request): Response => {
    const words = texts.addressTakes(allowed, request.method);
    const response = problemResponse(new AppError("method-not-allowed", words), request, randomUUID());
    response.headers.set("allow", allow);
    return response;
  };
  const others = METHODS.filter((method) => method !== allowed).map((method) => [method, refuse] as const);
  const OPTIONS = (): Response => new Response(null, { status: 204, headers: { allow } });
  return Object.fromEntries([...others, ["OPTIONS", OPTIONS]]) as ReturnType<typeof refuseOthers<M>>;
}
