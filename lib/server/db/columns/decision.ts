import "server-only";
import { bytea, columnsOf, enumerated, instant, jsonb, nullable, text, uuid, uuids } from "./table-columns";

export const decisionColumns = columnsOf("decision", {
  plantId: uuid,
  id: uuid,
  kind: enumerated<string>("DecisionKind"),
  batchId: nullable(uuid),
  frameIds: uuids,
  grounds: text,
  evidence: jsonb<unknown>(),
  personId: uuid,
  at: instant,
  expiresAt: nullable(instant),
  contentHash: bytea,
});
