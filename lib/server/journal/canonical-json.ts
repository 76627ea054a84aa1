import "server-only";
import { createHash } from "node:crypto";

/** What JSON.stringify writes as `write` does: most of a row is arrays of these. */
const isPlain = (value: unknown): boolean => typeof value === "number" || value === null || typeof value === "string";

function write(value: unknown): string {
  if (value === null || value === undefined) return "null";
  if (value instanceof Date) return String(value.getTime());
  if (value instanceof Uint8Array) return `"${Buffer.from(value).toString("hex")}"`;
  if (typeof value === "bigint") return value.toString();
  if (Array.isArray(value)) return value.every(isPlain) ? JSON.stringify(value) : `[${value.map(write).join(",")}]`;
  if (typeof value === "object") {
    const members = Object.entries(value)
      .filter(([, member]) => member !== undefined)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([key, member]) => `${JSON.stringify(key)}:${write(member)}`);
    return `{${members.join(",")}}`;
  }
  return JSON.stringify(value);
}

/**
 * One spelling of a value, whatever the order of its keys (a jsonb column keeps none): keys sorted, absent members left
 * out, times as milliseconds, bytes as hexadecimal. Double precision numbers come back from the database as they were
 * written, so the same row gives the same text.
 */
export const canonicalJson = write;

/** SHA-256 of a value's canonical text. */
export function contentHash(value: unknown): Buffer {
  return createHash("sha256").update(canonicalJson(value)).digest();
}
