import "server-only";
import { AppError } from "../../errors";
import { environment } from "../env";

/** The addresses under which this server is meant to be reached, as origins. */
export function trustedOrigins(): readonly string[] {
  const named = [environment("SHELLGATE_ORIGIN"), ...environment("SHELLGATE_OTHER_ORIGINS")];
  return named.map((address) => new URL(address).origin);
}

const SAFE_METHODS = new Set(["GET", "HEAD", "OPTIONS"]);

function isOwnOrigin(origin: string, request: Request): boolean {
  if (trustedOrigins().includes(origin)) return true;
  if (!URL.canParse(origin)) return false;
  return new URL(origin).host === request.headers.get("host");
}

/**
 * Refuses a change that another site sent with the visitor's cookies. A browser always names the page that sends
 * (Sec-Fetch-Site, Origin); with a cookie and neither of them nobody can tell, so that is refused too.
 *
 * @throws AppError forbidden
 */
export function assertNotForged(request: Request): void {
  if (SAFE_METHODS.has(request.method)) return;
  const origin = request.headers.get("origin");
  const site = request.headers.get("sec-fetch-site");
  const isNamed = origin !== null || site !== null;
  const isOwn = (site === null || site === "same-origin") && (origin === null || isOwnOrigin(origin, request));
  if (isNamed ? isOwn : !request.headers.has("cookie")) return;
  const words =
    "This came from another site, or did not say from where. Nothing was changed; use Shellgate's own pages.";
  throw new AppError("forbidden", words);
}

/**
 * The address of whoever sends, or null where nobody we trust tells it: without a proxy of ours x-forwarded-for is the
 * visitor's own claim. Of several, the last was written by our proxy.
 */
export function clientAddress(headers: Headers): string | null {
  if (!environment("SHELLGATE_FORWARDED")) return null;
  const last = headers.get("x-forwarded-for")?.split(",").at(-1)?.trim();
  return last === undefined || last === "" ? null : last;
}

/** Whether an address is this machine's own: 127.0.0.0/8 or ::1, also written as IPv4 in IPv6. */
export function isLoopback(address: string): boolean {
  const plain = address.toLowerCase().replace(/^::ffff:/, "");
  return plain === "::1" || /^127(?:\.\d{1,3}){3}$/.test(plain);
}
