import "server-only";
import { createHmac, timingSafeEqual } from "node:crypto";
import { environment } from "../base/env";

export const usesSecureCookies = (): boolean => environment("SHELLGATE_ORIGIN").startsWith("https:");

/** The cookie that holds the signed session key. */
export const sessionCookieName = (): string => `${usesSecureCookies() ? "__Secure-" : ""}shellgate.session_token`;

/** The value of a cookie; null where it did not come. */
export function cookieValue(headers: Headers, name: string): string | null {
  for (const pair of headers.get("cookie")?.split(";") ?? []) {
    const at = pair.indexOf("=");
    if (at > 0 && pair.slice(0, at).trim() === name) return pair.slice(at + 1).trim();
  }
  return null;
}

/**
 * The session's key out of the signed cookie `KEY.SIGNATURE` (HMAC-SHA-256 of the key, base64, the whole percent-encoded),
 * or null if the cookie is absent or not ours.
 */
export function sessionKey(headers: Headers): string | null {
  const cookie = cookieValue(headers, sessionCookieName());
  const parts = cookie === null ? null : /^([A-Za-z0-9_-]{16,128})(?:\.|%2E)([A-Za-z0-9%+/=]{40,80})$/i.exec(cookie);
  const [, key, signature] = parts ?? [];
  if (key === undefined || signature === undefined) return null;
  const expected = createHmac("sha256", environment("AUTH_SECRET")).update(key).digest();
  const sent = Buffer.from(decodeURIComponent(signature.replace(/%(?![0-9a-f]{2})/gi, "%25")), "base64");
  return sent.length === expected.length && timingSafeEqual(sent, expected) ? key : null;
}
