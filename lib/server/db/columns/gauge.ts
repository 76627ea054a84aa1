import "server-only";
import type { StationGauge } from "@/lib/schemas/station-package";
import { bool, columnsOf, float8, int4, nullable, text, uuid, word } from "./table-columns";

export const gaugeColumns = columnsOf("gauge", {
  plantId: uuid,
  id: uuid,
  key: text,
  name: text,
  kind: word<StationGauge["kind"]>(),
  principle: text,
  resolutionUm: float8,
  rangeLower: nullable(float8),
  rangeUpper: nullable(float8),
  repeatabilityUm: nullable(float8),
  stationId: nullable(uuid),
  ringId: nullable(uuid),
  active: bool,
  version: int4,
});
