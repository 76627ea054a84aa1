import "server-only";
import { bool, columnsOf, int4, text, uuid, word } from "./table-columns";

export const stationColumns = columnsOf("station", {
  plantId: uuid,
  id: uuid,
  key: text,
  name: text,
  lineId: uuid,
  operationId: uuid,
  viewingSide: word<"ds" | "nds">(),
  active: bool,
  version: int4,
});
