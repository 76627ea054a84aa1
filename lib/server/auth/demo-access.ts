import "server-only";
import { environment } from "../env";
import { clientAddress, isLoopback } from "./request-origin";

/**
 * Whether the published sign-ins of the demo plant may be used by whoever sends this. The start command turns them on; a
 * plain process listens on the loopback address only, and behind our proxy the sender's own address has to be loopback,
 * unless the network was asked for.
 */
export function mayUseDemoSignIns(headers: Headers): boolean {
  if (!environment("SHELLGATE_DEMO_SIGN_INS")) return false;
  if (environment("SHELLGATE_DEMO_ON_NETWORK") || !environment("SHELLGATE_FORWARDED")) return true;
  const address = clientAddress(headers);
  return address !== null && isLoopback(address);
}
