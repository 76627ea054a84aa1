import "server-only";
import { X509Certificate } from "node:crypto";
import { existsSync, lstatSync, readFileSync, statSync } from "node:fs";
import { statfs } from "node:fs/promises";
import net from "node:net";
import path from "node:path";
import manifest from "../../../package.json";
import { formatBytes } from "@/lib/format/byte-text";
import { formatDay, formatDuration } from "@/lib/format/date-text";
import { backupFolder } from "../backup/backup-place";
import { type Finding, good, remark, wrong } from "./finding";

const DAY_MS = 86_400_000;
/** Less, and the next shift may not be written; less than the second is told early enough to act (common practice, no source). */
const LEAST_BYTES = 64 * 2 ** 20;
const FEW_BYTES = 2e9;
const CONNECT_MS = 2_000;
/** The plant's own certificate is made anew so long before its end: one that is nearer was not. */
const CERTIFICATE_DAYS = 14;

async function roomOf(subject: string, folder: string, needed: number): Promise<Finding | null> {
  const place = existsSync(folder) ? folder : path.dirname(folder);
  if (!existsSync(place)) return null;
  const { bavail, bsize, blocks } = await statfs(place);
  const [free, all] = [bavail * bsize, blocks * bsize];
  const says = `${formatBytes(free)} of ${formatBytes(all)} are left on the disk of ${folder}.`;
  const todo = "Make room there, or move the folder to a larger disk: a full disk stops recording.";
  if (free < LEAST_BYTES) return wrong(subject, says, todo);
  return free < Math.max(FEW_BYTES, needed) ? remark(subject, says, todo) : good(subject, says);
}

/** @param databaseBytes - a copy of it has to fit; 0 where it is not known */
export async function examineDisks(folder: string, databaseBytes: number): Promise<readonly Finding[]> {
  const own = existsSync(folder) ? await roomOf("Disk", folder, databaseBytes) : null;
  const backups = backupFolder(folder);
  const other = await roomOf("Disk of backups", backups, databaseBytes);
  const isSame = own !== null && existsSync(backups) && statSync(backups).dev === statSync(folder).dev;
  const told = isSame ? null : other;
  return [own, told].filter((finding) => finding !== null);
}

export function examineVersions(): Finding {
  const says = `Shellgate ${manifest.version} on Node ${process.versions.node}, ${process.platform} ${process.arch}.`;
  return good("Versions", says);
}

const SECRETS = ["auth-secret", "database-password", "database-app-password", "tls/plant-ca.key", "tls/server.key"];

/** Whether others of this machine can read what is secret. */
export function examineFiles(folder: string): Finding | null {
  if (process.platform === "win32" || !existsSync(folder)) return null;
  const open = SECRETS.filter((name) => {
    const stat = lstatSync(path.join(/* turbopackIgnore: true */ folder, name), { throwIfNoEntry: false });
    return stat !== undefined && (stat.mode & 0o077) !== 0;
  });
  if (open.length === 0) return good("Keys", `The keys in ${folder} are readable by their owner only.`);
  const says = `Others of this machine can read ${open.join(", ")} in ${folder}.`;
  return wrong(
    "Keys",
    says,
    `chmod 600 on ${open.length === 1 ? "it" : "them"}; who may have read a key knows it for ever.`,
  );
}

function readCertificate(file: string): X509Certificate | null {
  try {
    return new X509Certificate(readFileSync(file));
  } catch {
    return null;
  }
}

/** @param ownFile - of a certificate that the plant brings itself; "" where it has none */
export function examineCertificate(folder: string, ownFile: string, now: Date): Finding {
  const isOwn = ownFile !== "";
  const file = isOwn ? ownFile : path.join(/* turbopackIgnore: true */ folder, "tls", "server.crt");
  if (!existsSync(file) && !isOwn)
    return good("Certificate", "There is none: this machine alone is served, or a proxy of yours has one.");
  const certificate = readCertificate(file);
  const renew = isOwn
    ? "Put a new one in its place; it is taken within a day, or at the next start."
    : "Start Shellgate with --lan again: it makes a new one, and tablets go on trusting the plant.";
  if (certificate === null) return wrong("Certificate", `The certificate ${file} cannot be read.`, renew);
  const endMs = Date.parse(certificate.validTo);
  const day = formatDay(endMs, { zone: "UTC" });
  if (endMs <= now.getTime()) return wrong("Certificate", `The certificate ended on ${day}: tablets refuse it.`, renew);
  const says = `The certificate is good until ${day}.`;
  return endMs - now.getTime() < CERTIFICATE_DAYS * DAY_MS
    ? remark("Certificate", says, renew)
    : good("Certificate", says);
}

function connects(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = net.connect({ port, host: "127.0.0.1", timeout: CONNECT_MS });
    const end = (isOpen: boolean): void => {
      socket.destroy();
      resolve(isOpen);
    };
    socket.once("connect", () => end(true));
    socket.once("error", () => end(false));
    socket.once("timeout", () => end(false));
  });
}

/** @param address - where people are to find Shellgate; null where none runs with this folder */
export async function examineAddress(address: string | null): Promise<Finding> {
  const start = "Start it: npm start.";
  if (address === null) return wrong("Address", "No Shellgate runs with this data folder.", start);
  if (address === "")
    return remark("Address", "Shellgate is starting, or it is run by hand.", "Look again in a minute.");
  const { port, protocol } = new URL(address);
  const number = port === "" ? (protocol === "https:" ? 443 : 80) : Number(port);
  return (await connects(number))
    ? good("Address", `Shellgate answers at ${address}.`)
    : remark(
        "Address",
        `Nothing answers on port ${number} of this machine, where ${address} leads.`,
        "Where a proxy of yours has that address on another machine, all is well; else look at what Shellgate printed, and start it again.",
      );
}

/** How old something may be before it is told in words. */
export const ageWords = (ms: number): string => formatDuration(Math.max(0, ms) / 1000);
