import "server-only";
import { BlockList, isIP } from "node:net";
import { MESSAGES_WORDS } from "./words";

const words = MESSAGES_WORDS.addressGuard;

type Subnet = readonly [address: string, prefix: number];

// IANA special-purpose address registries (RFC 6890 and its updates), read from memory.
const OWN_4: readonly Subnet[] = [
  ["10.0.0.0", 8],
  ["172.16.0.0", 12],
  ["192.168.0.0", 16],
  ["127.0.0.0", 8],
];
const NEVER_4: readonly Subnet[] = [
  ["0.0.0.0", 8],
  ["100.64.0.0", 10],
  // Link-local, where clouds answer with the machine's own keys.
  ["169.254.0.0", 16],
  ["192.0.0.0", 24],
  ["192.0.2.0", 24],
  ["192.88.99.0", 24],
  ["198.18.0.0", 15],
  ["198.51.100.0", 24],
  ["203.0.113.0", 24],
  ["224.0.0.0", 4],
  ["240.0.0.0", 4],
];
const OWN_6: readonly Subnet[] = [
  ["::1", 128],
  ["fc00::", 7],
];
/** Within 2000::/3, the only part of IPv6 that is out in the world: documentation, and ways to hide an IPv4 address in it. */
const NEVER_6: readonly Subnet[] = [
  ["2001::", 23],
  ["2001:db8::", 32],
  ["2002::", 16],
  ["3fff::", 20],
  // The address at which a cloud answers with the machine's own keys lies among private ones.
  ["fd00:ec2::254", 128],
];

function blockList(four: readonly Subnet[], six: readonly Subnet[]): BlockList {
  const list = new BlockList();
  for (const [address, prefix] of four) list.addSubnet(address, prefix, "ipv4");
  for (const [address, prefix] of six) list.addSubnet(address, prefix, "ipv6");
  return list;
}

const own = blockList(OWN_4, OWN_6);
const never = blockList(NEVER_4, NEVER_6);
const world6 = blockList([], [["2000::", 3]]);

/** The IPv4 address that an IPv6 one stands for (RFC 4291, section 2.5.5.2), or the address itself. */
function unmapped(address: string): string {
  if (isIP(address) !== 6) return address;
  // The parser of addresses writes ::ffff:127.0.0.1 as [::ffff:7f00:1], whichever way it was spelt.
  const spelt = new URL(`http://[${address}]`).hostname;
  const mapped = /^\[::ffff:([0-9a-f]{1,4}):([0-9a-f]{1,4})\]$/.exec(spelt);
  if (mapped === null) return address;
  const [high, low] = [parseInt(mapped[1] ?? "", 16), parseInt(mapped[2] ?? "", 16)];
  return [high >> 8, high & 255, low >> 8, low & 255].join(".");
}

/**
 * Why a webhook is not to call an address; null where it may.
 *
 * @param address - IPv4 or IPv6, not a name
 * @param ownNetwork - whether the plant allows its own network
 */
export function addressRefusal(address: string, ownNetwork: boolean): string | null {
  const [bare = ""] = address.split("%");
  const plain = unmapped(bare);
  const family = isIP(plain);
  if (family === 0) return words.isNoAddress(address);
  const kind = family === 6 ? "ipv6" : "ipv4";
  if (never.check(plain, kind)) return words.isAddressNoWebhook(address);
  if (own.check(plain, kind)) return ownNetwork ? null : words.isInPlantsOwnNetwork(address);
  if (family === 6 && !world6.check(plain, "ipv6")) return words.isAddressNoWebhook(address);
  return null;
}
