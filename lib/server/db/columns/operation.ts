import "server-only";
import { columnsOf, int2, int4, text, uuid } from "./table-columns";

export const operationColumns = columnsOf("operation", {
  plantId: uuid,
  id: uuid,
  key: text,
  name: text,
  position: int2,
  version: int4,
});
