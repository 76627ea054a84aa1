import "server-only";
import type { IncomingHttpHeaders } from "node:http";
import { AppError } from "../../errors";
import { environment } from "../base/env";
import { AUTH_WORDS } from "./words";

const words = AUTH_WORDS.knownHosts;

/** This machine's own names, under which only it can be meant. */
const LOOPBACK_NAMES = ["localhost", "127.0.0.1", "[::1]"];

/** A name or address, with or without a port, as RFC 9110, 7.2 has it; no user, no path. */
const HOST = /^(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(?::\d{1,5})?$/i;

/** The name in a Host header, lower case, an IPv6 address in its shortest form; null where it is none. */
function hostName(host: string): string | null {
  const name = HOST.exec(host.trim())?.[1]?.toLowerCase();
  if (name === undefined) return null;
  if (!name.startsWith("[")) return name;
  return URL.canParse(`http://${name}`) ? new URL(`http://${name}`).hostname : null;
}

/** Whether a Host header names this machine itself. */
export const isLoopbackHost = (host: string): boolean => LOOPBACK_NAMES.includes(hostName(host) ?? "");

/**
 * Whether a Host header is one of the plant's names: the loopback ones and those of SHELLGATE_ORIGIN and
 * SHELLGATE_OTHER_ORIGINS. The port does not matter: a page of another name cannot get around the name.
 */
export function isKnownHost(host: string): boolean {
  const name = hostName(host);
  if (name === null) return false;
  const configured = [environment("SHELLGATE_ORIGIN"), ...environment("SHELLGATE_OTHER_ORIGINS")];
  return LOOPBACK_NAMES.includes(name) || configured.some((origin) => new URL(origin).hostname === name);
}

/**
 * Every name under which a request says that it came: its Host, that of an address written in full (RFC 9112, 3.2.2), and,
 * where a proxy of ours is configured, the one that the proxy was asked by. All of them have to be known, since a page under a
 * foreign name can add headers to its own requests.
 */
export function namedHosts(headers: IncomingHttpHeaders, target: string): readonly string[] {
  const forwarded = environment("SHELLGATE_FORWARDED") ? headers["x-forwarded-host"] : undefined;
  const full = URL.canParse(target) ? [new URL(target).host] : [];
  return [
    ...(headers.host === undefined ? [] : [headers.host]),
    ...full,
    ...(forwarded === undefined ? [] : String(forwarded).split(",")),
  ];
}

/** The Host header without what would not be fit to print. */
const shown = (host: string): string => host.slice(0, 80).replace(/[^\w.:[\]-]/g, "?");

/**
 * Refuses what came under a name that is not the plant's: a page of another site whose name was made to lead here would else
 * read and write as if it were ours.
 *
 * @throws AppError misdirected
 */
export function assertKnownHost(hosts: readonly string[]): void {
  const stranger = hosts.find((host) => !isKnownHost(host));
  if (stranger === undefined) return;
  throw new AppError("misdirected", words.shellgateDoesNotAnswer(shown(stranger)) + words.furtherOneIsNamed);
}
