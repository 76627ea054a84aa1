import "server-only";
import type pg from "pg";
import { uuidV7 } from "@/lib/schemas/identifier";
import { sql } from "../db/sql";
import { appendToLockedChain, type ChainHead } from "../journal/append-journal";
import { canonicalJson } from "../journal/canonical-json";
import { subjectsOf } from "../journal/row-hashes";

/** What happens to a case: by itself, or by a person. */
export const CASE_ENTRY_KINDS = [
  "opened",
  "over",
  "back",
  "late",
  "gone",
  "joined",
  "earlier",
  "owner",
  "step",
  "ticked",
  "cause",
  "closed",
  "reopened",
] as const;
export type CaseEntryKind = (typeof CASE_ENTRY_KINDS)[number];

export type NewEntry = {
  readonly caseId: string;
  readonly kind: CaseEntryKind;
  readonly text?: string | null;
  readonly data?: Readonly<Record<string, unknown>>;
};

/** The chain of the journal that cases stand in. */
export const CASES_CHAIN = "setup";

/** Writes entries of cases with one entry of the journal that vouches for them. */
export async function writeEntries(
  db: pg.ClientBase,
  plantId: string,
  head: ChainHead,
  entries: readonly NewEntry[],
  by: { readonly actor: string; readonly personId: string | null; readonly action: string },
  now: Date,
): Promise<void> {
  if (entries.length === 0) return;
  const rows = entries.map((one) => ({ ...one, id: uuidV7(now.getTime()) }));
  await db.query(sql`
    insert into case_entry (plant_id, id, case_id, kind, at, person_id, text, data)
    select ${plantId}, r.id, r.case_id, r.kind, ${now}, ${by.personId}, r.text, r.data::jsonb
    from unnest(${rows.map(({ id }) => id)}::uuid[], ${rows.map(({ caseId }) => caseId)}::uuid[],
      ${rows.map(({ kind }) => kind)}::text[], ${rows.map(({ text }) => text ?? null)}::text[],
      ${rows.map(({ data }) => canonicalJson(data ?? {}))}::text[]) as r(id, case_id, kind, text, data)`);
  await appendToLockedChain(db, head, {
    plantId,
    chain: CASES_CHAIN,
    at: now,
    actor: by.actor,
    action: by.action,
    subjects: await subjectsOf(
      db,
      plantId,
      "case_entry",
      rows.map(({ id }) => id),
    ),
    payload: { cases: [...new Set(entries.map(({ caseId }) => caseId))], kinds: entries.map(({ kind }) => kind) },
  });
}
