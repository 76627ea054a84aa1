import "server-only";
import { columnsOf, float8, instant, nullable, text, uuid } from "./table-columns";

export const zeroCheckColumns = columnsOf("zero_check", {
  plantId: uuid,
  id: uuid,
  gaugeId: uuid,
  ringId: uuid,
  at: instant,
  readingMm: float8,
  driftUm: float8,
  limitUm: float8,
  occasion: text,
  personId: nullable(uuid),
});
