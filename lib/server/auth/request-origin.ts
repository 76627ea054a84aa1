import "server-only";
import { AppError } from "../../errors";
import { environment } from "../base/env";
import { isKnownHost } from "./known-hosts";

/** The addresses under which this server is meant to be reached, as origins. */
export function trustedOrigins(): readonly string[] {
  const named = [environment("SHELLGATE_ORIGIN"), ...environment("SHELLGATE_OTHER_ORIGINS")];
  return named.map((address) => new URL(address).origin);
}

const SAFE_METHODS = new Set(["GET", "HEAD", "OPTIONS"]);

/** What of a request tells where it came from. */
type Sent = { readonly method: string; readonly headers: Pick<Headers, "get" | "has"> };

/** One of the plant's origins, or the very name and port that was asked, if that is a name of the plant. */
function isOwnOrigin(origin: string, { headers }: Sent): boolean {
  if (trustedOrigins().includes(origin)) return true;
  const host = headers.get("host");
  return host !== null && isKnownHost(host) && URL.canParse(origin) && new URL(origin).host === host.toLowerCase();
}

/**
 * Refuses a change that another site sent with the visitor's cookies. A browser always names the page that sends
 * (Sec-Fetch-Site, Origin); with a cookie and neither of them nobody can tell, so that is refused too.
 *
 * @throws AppError forbidden
 */
export function assertNotForged(request: Sent): void {
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

/** An address as brakes count it: of IPv6 the first 64 bits, since one network hands out the rest by the million. */
export function addressGroup(address: string): string {
  const plain = address.toLowerCase().replace(/^::ffff:/, "");
  if (!plain.includes(":")) return plain;
  const full = URL.canParse(`http://[${plain}]`) ? new URL(`http://[${plain}]`).hostname.slice(1, -1) : plain;
  const [head = "", tail] = full.split("::");
  const groups = head === "" ? [] : head.split(":");
  const missing = tail === undefined ? 0 : 8 - groups.length - (tail === "" ? 0 : tail.split(":").length);
  return [...groups, ...Array<string>(missing).fill("0"), ...(tail ?? "").split(":")].slice(0, 4).join(":");
}

/** Whether an address is this machine's own: 127.0.0.0/8 or ::1, also written as IPv4 in IPv6. */
export function isLoopback(address: string): boolean {
  const plain = address.toLowerCase().replace(/^::ffff:/, "");
  return plain === "::1" || /^127(?:\.\d{1,3}){3}$/.test(plain);
}
