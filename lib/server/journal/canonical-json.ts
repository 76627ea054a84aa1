import "server-only";
import { hash } from "node:crypto";

/** A value whose canonical text is at hand already, so that the same readings are not written out twice. */
export class Written {
  readonly text: string;

  constructor(value: unknown) {
    this.text = write(value);
  }
}

/** What JSON.stringify writes as `write` does: most of a row is arrays of these. */
function isPlainArray(values: readonly unknown[]): boolean {
  for (const value of values)
    if (typeof value !== "number" && value !== null && typeof value !== "string") return false;
  return true;
}

function writeArray(values: readonly unknown[]): string {
  if (isPlainArray(values)) return JSON.stringify(values);
  let text = "";
  for (const value of values) text += text === "" ? write(value) : `,${write(value)}`;
  return `[${text}]`;
}

function writeMembers(value: Readonly<Record<string, unknown>>): string {
  let text = "";
  for (const key of Object.keys(value).sort()) {
    const member = value[key];
    if (member !== undefined) text += `${text === "" ? "" : ","}${JSON.stringify(key)}:${write(member)}`;
  }
  return `{${text}}`;
}

function write(value: unknown): string {
  if (typeof value === "string") return JSON.stringify(value);
  if (value === null || value === undefined) return "null";
  if (typeof value === "bigint") return value.toString();
  if (typeof value !== "object") return JSON.stringify(value);
  if (Array.isArray(value)) return writeArray(value);
  if (value instanceof Date) return String(value.getTime());
  if (value instanceof Uint8Array) return `"${Buffer.from(value).toString("hex")}"`;
  if (value instanceof Written) return value.text;
  return writeMembers(value as Readonly<Record<string, unknown>>);
}

/**
 * One spelling of a value, whatever the order of its keys (a jsonb column keeps none): keys sorted, absent members left
 * out, times as milliseconds, bytes as hexadecimal. Double precision numbers come back from the database as they were
 * written, so the same row gives the same text.
 */
export const canonicalJson = write;

/** SHA-256 of a value's canonical text. */
export function contentHash(value: unknown): Buffer {
  return hash("sha256", write(value), "buffer");
}
