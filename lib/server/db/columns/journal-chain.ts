import "server-only";
import { bytea, columnsOf, int8, text, uuid } from "./table-columns";

export const journalChainColumns = columnsOf("journal_chain", {
  plantId: uuid,
  chain: text,
  length: int8,
  head: bytea,
});
