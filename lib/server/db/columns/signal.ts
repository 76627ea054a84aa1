import "server-only";
import { columnsOf, enumerated, instant, jsonb, nullable, text, uuid } from "./table-columns";

export const signalColumns = columnsOf("signal", {
  plantId: uuid,
  id: uuid,
  streamId: uuid,
  rule: text,
  inspectionId: uuid,
  measuredAt: instant,
  raisedAt: instant,
  state: enumerated<"open" | "assigned" | "closed" | "overtaken">("SignalState"),
  detail: jsonb<unknown>(),
  cause: nullable(text),
  assignedById: nullable(uuid),
  assignedAt: nullable(instant),
});
