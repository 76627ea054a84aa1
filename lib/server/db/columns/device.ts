import "server-only";
import { columnsOf, instant, jsonb, nullable, text, uuid } from "./table-columns";

export const deviceColumns = columnsOf("device", {
  plantId: uuid,
  id: text,
  name: text,
  stationId: nullable(uuid),
  createdAt: instant,
  lastSeenAt: nullable(instant),
  revokedAt: nullable(instant),
  queue: nullable(jsonb<unknown>()),
});
