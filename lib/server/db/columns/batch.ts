import "server-only";
import { columnsOf, instant, int4, jsonb, nullable, text, uuid } from "./table-columns";

export const batchColumns = columnsOf("batch", {
  plantId: uuid,
  id: uuid,
  key: text,
  supplierId: uuid,
  modelId: uuid,
  lineId: uuid,
  planId: uuid,
  policy: jsonb<unknown>(),
  openedAt: instant,
  heldAt: nullable(instant),
  releasedAt: nullable(instant),
  version: int4,
});
