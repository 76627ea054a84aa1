import "server-only";
import { bytea, columnsOf, instant, int2, int8, jsonb, text, uuid } from "./table-columns";

export const journalEntryColumns = columnsOf("journal_entry", {
  plantId: uuid,
  chain: text,
  sequence: int8,
  at: instant,
  actor: text,
  action: text,
  subjects: jsonb<unknown>(),
  payload: jsonb<unknown>(),
  previous: bytea,
  hash: bytea,
  canonical: int2,
});
