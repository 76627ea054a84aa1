import "server-only";
import { readDatabaseRefusal } from "../db/prisma-errors";

/** What keeps this process from its work, and when it was last met. */
type Trouble = { readonly kind: "unreachable" | "full" | "busy"; readonly atMs: number };
type Holder = typeof globalThis & { shellgateTrouble?: Trouble };

/** Remembers that the database was away, held up or without room; anything else is no trouble of this kind. */
export function noteTrouble(error: unknown, nowMs: number = Date.now()): void {
  const kind = readDatabaseRefusal(error)?.kind;
  if (kind === "unreachable" || kind === "full" || kind === "busy")
    (globalThis as Holder).shellgateTrouble = { kind, atMs: nowMs };
}

/** The last trouble that was met since a moment; null where there was none. */
export function troubleSince(sinceMs: number): Trouble["kind"] | null {
  const { shellgateTrouble: known } = globalThis as Holder;
  return known !== undefined && known.atMs >= sinceMs ? known.kind : null;
}
