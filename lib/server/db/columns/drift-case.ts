import "server-only";
import type { FoundCase } from "@/lib/quality/cases/found-case";
import { bool, columnsOf, instant, int4, jsonb, nullable, text, texts, uuid, word } from "./table-columns";

export const driftCaseColumns = columnsOf("drift_case", {
  plantId: uuid,
  id: uuid,
  number: int4,
  watchId: uuid,
  lineId: uuid,
  operationId: uuid,
  drawingId: uuid,
  state: word<"open" | "closed" | "joined">(),
  found: jsonb<FoundCase>(),
  signals: texts,
  sinceAt: instant,
  openedAt: instant,
  overAt: nullable(instant),
  times: int4,
  stands: bool,
  ownerId: nullable(uuid),
  cause: nullable(text),
  closedAt: nullable(instant),
  joinedTo: nullable(uuid),
  version: int4,
});
