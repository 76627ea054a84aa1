import "server-only";
import { columnsOf, text, uuid } from "./table-columns";

export const drawingColumns = columnsOf("drawing", {
  plantId: uuid,
  id: uuid,
  key: text,
  title: text,
});
