import "server-only";
import { randomUUID } from "node:crypto";
import type { IncomingMessage, ServerResponse } from "node:http";
import { count, observe } from "../base/metrics";
import { duringRequest } from "../base/request-context";

const REQUEST_ID = /^[A-Za-z0-9._-]{8,64}$/;
const METHODS = new Set(["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"]);

/** What is asked for, in few kinds. */
function kindOf(url: string): string {
  if (/^\/api\/v1\/live\b/.test(url)) return "live";
  if (url.startsWith("/api/")) return "api";
  return url.startsWith("/_next/") || /\.[a-z0-9]{2,5}(?:\?|$)/.test(url) ? "file" : "page";
}

/** The number that a request came with, or a new one; its answer carries it. */
function numbered(request: IncomingMessage, response: ServerResponse): string {
  const sent = request.headers["x-request-id"];
  const requestId = typeof sent === "string" && REQUEST_ID.test(sent) ? sent : randomUUID();
  request.headers["x-request-id"] = requestId;
  response.setHeader("x-request-id", requestId);
  return requestId;
}

/** Gives a request its number, counts it and how long it took, and does its work so that what is logged names it. */
export function watchRequest<T>(request: IncomingMessage, response: ServerResponse, work: () => T): T {
  const from = performance.now();
  const { method = "", url = "" } = request;
  const labels = { method: METHODS.has(method) ? method : "other", kind: kindOf(url) };
  response.once("close", () => {
    const status = response.writableFinished ? String(response.statusCode) : "broken off";
    count("shellgate_http_requests", "Requests that were answered, by status.", { ...labels, status });
    // A stream of events goes on as long as somebody looks.
    if (labels.kind !== "live")
      observe(
        "shellgate_http_request_seconds",
        "Time from a request to the end of its answer.",
        (performance.now() - from) / 1000,
        labels,
      );
  });
  return duringRequest(numbered(request, response), work);
}
