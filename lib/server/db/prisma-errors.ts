import "server-only";

/** What the database refused, whichever way it was asked. */
export type DatabaseRefusal =
  | { readonly kind: "conflict" }
  | { readonly kind: "unique"; readonly constraint: string | null }
  | { readonly kind: "foreign-key"; readonly constraint: string | null }
  /** A row that may not change or go while others rest on it, or that never changes at all. */
  | { readonly kind: "restrict"; readonly constraint: string | null }
  | { readonly kind: "check"; readonly constraint: string | null }
  /** A value that no column can hold: U+0000 in a text, a number out of range. */
  | { readonly kind: "data" }
  | { readonly kind: "not-found" }
  /** Somebody else holds what is to be written, and does not let go in time. */
  | { readonly kind: "busy" }
  /** No room is left to write: the disk, its quota, or the server's memory. */
  | { readonly kind: "full" }
  | { readonly kind: "unreachable" };

type Shape = Readonly<Record<string, unknown>>;

const asShape = (value: unknown): Shape | null =>
  typeof value === "object" && value !== null ? (value as Shape) : null;
const asText = (value: unknown): string | null => (typeof value === "string" ? value : null);

// SQLSTATE, as `pg` reports it in `code` and the driver adapter in `originalCode`; PostgreSQL manual, appendix A.
const CONFLICT = new Set(["40001", "40P01"]);
const BUSY = new Set(["55P03", "P2028"]);
const FULL = new Set(["53100", "53200", "ENOSPC", "EDQUOT"]);
/** The words of a server that could not write a file, whatever class it gave them. */
const NO_ROOM = /No space left on device|Disk quota exceeded/;
/** What `pg` and its pool say without a code when the server goes away under a query, or none can be had in time. */
const LOST =
  /^(?:Connection terminated|timeout exceeded when trying to connect|Client has encountered a connection error|Client was closed)/;
const UNREACHABLE =
  /^(08...|57P0[1-5]|57014|53300|53400|25006|58030|ECONNREFUSED|ECONNRESET|ETIMEDOUT|EPIPE|P1001|P1002|P1017)$/;

function fromSqlState(state: string, constraint: string | null): DatabaseRefusal | null {
  if (CONFLICT.has(state)) return { kind: "conflict" };
  if (state === "23505") return { kind: "unique", constraint };
  if (state === "23503") return { kind: "foreign-key", constraint };
  if (state === "23001") return { kind: "restrict", constraint };
  if (state === "23514") return { kind: "check", constraint };
  if (/^22[0-9A-Z]{3}$/.test(state)) return { kind: "data" };
  if (BUSY.has(state)) return { kind: "busy" };
  if (FULL.has(state)) return { kind: "full" };
  if (UNREACHABLE.test(state)) return { kind: "unreachable" };
  return null;
}

/** The adapter's own words (`cause.kind`), which Prisma passes on as `meta.driverAdapterError.cause` or lets escape. */
function fromAdapter(cause: Shape): DatabaseRefusal | null {
  const message = asText(cause.originalMessage) ?? asText(cause.message) ?? "";
  const constraint = asText(asShape(cause.constraint)?.index) ?? /constraint "([^"]+)"/.exec(message)?.[1] ?? null;
  const state = asText(cause.originalCode) ?? asText(cause.code);
  const fromState = state === null ? null : fromSqlState(state, constraint);
  if (fromState !== null) return fromState;
  if (cause.kind === "TransactionWriteConflict") return { kind: "conflict" };
  if (cause.kind === "UniqueConstraintViolation") return { kind: "unique", constraint };
  if (cause.kind === "ForeignKeyConstraintViolation") return { kind: "foreign-key", constraint };
  if (cause.kind === "DatabaseNotReachable" || cause.kind === "ConnectionClosed") return { kind: "unreachable" };
  return null;
}

function fromPrismaCode(code: string): DatabaseRefusal | null {
  if (code === "P2034") return { kind: "conflict" };
  if (code === "P2002") return { kind: "unique", constraint: null };
  if (code === "P2003") return { kind: "foreign-key", constraint: null };
  if (code === "P2004") return { kind: "check", constraint: null };
  if (code === "P2025") return { kind: "not-found" };
  if (BUSY.has(code)) return { kind: "busy" };
  return UNREACHABLE.test(code) ? { kind: "unreachable" } : null;
}

function adapterCause(shape: Shape): Shape | null {
  const inMeta = asShape(asShape(asShape(shape.meta)?.driverAdapterError)?.cause);
  const own = asShape(shape.cause);
  return inMeta ?? (own !== null && typeof own.kind === "string" ? own : null);
}

/**
 * Says what the database refused: the one place that knows the shapes of Prisma's, its driver adapter's and `pg`'s errors.
 * Those of Prisma change between versions, so the test of this file runs on a real server.
 *
 * @returns null when the error is none of the kinds that a command answers in words
 */
export function readDatabaseRefusal(error: unknown): DatabaseRefusal | null {
  const shape = asShape(error);
  if (shape === null) return null;
  const cause = adapterCause(shape);
  const fromCause = cause === null ? null : fromAdapter(cause);
  if (fromCause !== null) return fromCause;
  if (NO_ROOM.test(asText(shape.message) ?? "")) return { kind: "full" };
  const code = asText(shape.code);
  if (code === null) return LOST.test(asText(shape.message) ?? "") ? { kind: "unreachable" } : null;
  return /^P\d{4}$/.test(code) ? fromPrismaCode(code) : fromSqlState(code, asText(shape.constraint));
}
