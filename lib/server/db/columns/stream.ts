import "server-only";
import type { FeatureName } from "@/lib/core/metrology/features";
import { columnsOf, instant, int4, nullable, uuid, word } from "./table-columns";

export const streamColumns = columnsOf("stream", {
  plantId: uuid,
  id: uuid,
  lineId: uuid,
  operationId: uuid,
  drawingId: uuid,
  feature: word<FeatureName>(),
  points: int4,
  lastAt: nullable(instant),
  limitSetId: nullable(uuid),
});
