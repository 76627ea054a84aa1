import "server-only";
import { environment } from "../base/env";
import { isLoopbackHost } from "./known-hosts";
import { clientAddress, isLoopback } from "./request-origin";

/**
 * Whether the published sign-ins of the demo plant may be used by whoever sends this. The start command turns them on; a
 * plain process listens on the loopback address only, and behind our proxy the sender's own address has to be loopback,
 * unless the network was asked for.
 */
export function mayUseDemoSignIns(headers: Headers): boolean {
  if (!environment("SHELLGATE_DEMO_SIGN_INS")) return false;
  if (environment("SHELLGATE_DEMO_ON_NETWORK")) return true;
  const host = headers.get("host");
  // Asked under a name that leads here from elsewhere, by a proxy that nobody told us of.
  if (!environment("SHELLGATE_FORWARDED")) return host === null || isLoopbackHost(host);
  const address = clientAddress(headers);
  return address !== null && isLoopback(address);
}
