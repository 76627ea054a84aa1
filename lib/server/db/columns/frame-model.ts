import "server-only";
import { bool, columnsOf, int4, text, uuid } from "./table-columns";

export const frameModelColumns = columnsOf("frame_model", {
  plantId: uuid,
  id: uuid,
  key: text,
  name: text,
  drawingId: uuid,
  active: bool,
  version: int4,
});
