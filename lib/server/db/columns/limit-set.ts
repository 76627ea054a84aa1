import "server-only";
import { bool, columnsOf, float8, instant, int4, jsonb, nullable, uuid } from "./table-columns";

export const limitSetColumns = columnsOf("limit_set", {
  plantId: uuid,
  id: uuid,
  streamId: uuid,
  version: int4,
  center: float8,
  sigma: float8,
  lower: nullable(float8),
  upper: nullable(float8),
  rangeCenter: nullable(float8),
  rangeUpper: nullable(float8),
  method: jsonb<unknown>(),
  baselineFrom: instant,
  baselineTo: instant,
  frames: int4,
  provisional: bool,
  createdAt: instant,
  approvedAt: nullable(instant),
  approvedById: nullable(uuid),
});
