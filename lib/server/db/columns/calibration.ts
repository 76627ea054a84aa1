import "server-only";
import { columnsOf, float8, instant, nullable, text, uuid } from "./table-columns";

export const calibrationColumns = columnsOf("calibration", {
  plantId: uuid,
  id: uuid,
  gaugeId: nullable(uuid),
  ringId: nullable(uuid),
  at: instant,
  dueAt: instant,
  biasUm: nullable(float8),
  certificate: nullable(text),
});
