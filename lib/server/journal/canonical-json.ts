import "server-only";
import { hash } from "node:crypto";

/**
 * Version of the spelling that hashes are made of. 1: JSON throughout, which writes NaN and infinities as null, -0 as 0, and
 * says nothing of an array's first index. 2: columns of numbers tell all of these apart.
 */
export const CANONICAL_VERSION = 2;

/** An array of a column whose first index is not 1, as PostgreSQL allows: other elements than an ordinary array has. */
export class ShiftedArray {
  readonly first: number;
  readonly values: readonly unknown[];

  constructor(first: number, values: readonly unknown[]) {
    this.first = first;
    this.values = values;
  }
}

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
  if (value instanceof ShiftedArray) return write(value.values);
  return writeMembers(value as Readonly<Record<string, unknown>>);
}

const isOrdinary = (value: number): boolean => Number.isFinite(value) && !Object.is(value, -0);

/** A number as double precision has it: bare words that no JSON text contains stand for what JSON cannot say. */
const writeNumber = (value: number): string =>
  Object.is(value, -0) ? "-0" : Number.isFinite(value) ? JSON.stringify(value) : String(value);

/**
 * A column's value in version 2. Numbers within jsonb stay as JSON has them, since the database stores no others there.
 */
function writeColumn(value: unknown): string {
  if (typeof value === "number") return writeNumber(value);
  if (value instanceof ShiftedArray) return `(${value.first}:${writeColumn(value.values)})`;
  if (!Array.isArray(value)) return write(value);
  const isNested = value.some((one) => Array.isArray(one));
  if (!isNested && value.every((one) => typeof one !== "number" || isOrdinary(one))) return write(value);
  return `[${value.map(writeColumn).join()}]`;
}

/**
 * One spelling of a value, whatever the order of its keys (a jsonb column keeps none): keys sorted, absent members left
 * out, times as milliseconds, bytes as hexadecimal. Double precision numbers come back from the database as they were
 * written, so the same row gives the same text.
 */
export const canonicalJson = write;

/**
 * One spelling of the columns of a row, in their order.
 *
 * @param version - of the spelling; hashes made with an older one are checked with that
 */
export function canonicalColumns(columns: readonly unknown[], version: number): string {
  return version === 1 ? write(columns) : `[${columns.map(writeColumn).join()}]`;
}

/** SHA-256 of a canonical text. */
export function textHash(text: string): Buffer {
  return hash("sha256", text, "buffer");
}

/** SHA-256 of a value's canonical text. */
export function contentHash(value: unknown): Buffer {
  return textHash(write(value));
}
