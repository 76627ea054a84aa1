import "server-only";
import { getPool } from "../db/client";
import { log } from "../base/log";
import { anchorJournal } from "./anchor-journal";
import { beginVouching } from "./begin-vouching";

const EVERY_MS = 60_000;

/** Plants whose journal is known to vouch for all that it should: it never ceases to. */
const begun = new Set<string>();

async function anchorAll(): Promise<void> {
  const { rows } = await getPool().query<{ id: string }>("select id from plant order by id");
  for (const { id } of rows) {
    if (!begun.has(id)) await beginVouching(id);
    begun.add(id);
    await anchorJournal(id);
  }
}

/** Anchors the journal of every plant each minute for as long as the process lives; a chain that did not grow costs a read. */
export function keepJournalAnchored(): void {
  const run = (): void => {
    anchorAll().catch((error: unknown) =>
      log.warn("the journal could not be anchored, tried again in a minute", { error }),
    );
  };
  setInterval(run, EVERY_MS).unref();
}
