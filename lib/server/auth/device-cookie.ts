import "server-only";
import { createHmac, timingSafeEqual } from "node:crypto";
import { environment } from "../base/env";
import { cookieValue, usesSecureCookies } from "./session-cookie";

const NAME = "shellgate.device";
/** As long as browsers keep a cookie at most. */
const MAX_AGE_SECONDS = 400 * 86_400;

const signatureOf = (plantId: string, deviceId: string): Buffer =>
  createHmac("sha256", environment("AUTH_SECRET")).update(`device ${plantId} ${deviceId}`).digest();

/** The Set-Cookie line by which a browser shows later on that it is this device, whoever signs in on it. */
export function deviceCookie(plantId: string, deviceId: string): string {
  const value = `${Buffer.from(deviceId).toString("base64url")}.${signatureOf(plantId, deviceId).toString("base64url")}`;
  const secure = usesSecureCookies() ? "; Secure" : "";
  return `${NAME}=${value}; Path=/; Max-Age=${MAX_AGE_SECONDS}; HttpOnly; SameSite=Lax${secure}`;
}

/** The device that the sender has shown to be; null where it shows none of this plant. */
export function provenDevice(headers: Headers, plantId: string): string | null {
  const parts = /^([A-Za-z0-9_-]{1,400})\.([A-Za-z0-9_-]{43})$/.exec(cookieValue(headers, NAME) ?? "");
  const [, name, signature] = parts ?? [];
  if (name === undefined || signature === undefined) return null;
  const deviceId = Buffer.from(name, "base64url").toString("utf8");
  const sent = Buffer.from(signature, "base64url");
  const expected = signatureOf(plantId, deviceId);
  return sent.length === expected.length && timingSafeEqual(sent, expected) ? deviceId : null;
}
