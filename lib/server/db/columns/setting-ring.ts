import "server-only";
import { bool, columnsOf, float8, int4, text, uuid } from "./table-columns";

export const settingRingColumns = columnsOf("setting_ring", {
  plantId: uuid,
  id: uuid,
  key: text,
  certifiedSizeMm: float8,
  uncertaintyUm: float8,
  active: bool,
  version: int4,
});
