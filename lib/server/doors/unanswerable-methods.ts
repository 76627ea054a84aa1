import "server-only";
import { subscribe } from "node:diagnostics_channel";
import type { IncomingMessage } from "node:http";

/** What no `Request` can be made of (Fetch standard, 2.2.1), so that Next would answer 500. */
const UNANSWERABLE = new Set(["TRACE", "CONNECT", "TRACK"]);
/** A method that Node knows and no route takes: answered as any other that is not allowed. */
const NOT_ALLOWED = "PROPFIND";

/** From now on requests by methods that Next cannot take are refused as others that are not allowed. */
export function refuseUnanswerableMethods(): void {
  subscribe("http.server.request.start", (message) => {
    const { request } = message as { request: IncomingMessage };
    if (UNANSWERABLE.has(request.method ?? "")) request.method = NOT_ALLOWED;
  });
}
