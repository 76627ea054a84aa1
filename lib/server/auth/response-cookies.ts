import "server-only";
import { parseSetCookieHeader, toCookieOptions } from "better-auth/cookies";
import { cookies } from "next/headers";

/** Sends Set-Cookie lines with the answer of the server action that is running. */
export async function sendCookies(lines: readonly string[]): Promise<void> {
  const store = await cookies();
  for (const line of lines) {
    for (const [name, attributes] of parseSetCookieHeader(line)) {
      store.set(name, attributes.value, toCookieOptions(attributes));
    }
  }
}
