import "server-only";
import { bool, columnsOf, int4, text, uuid } from "./table-columns";

export const lineColumns = columnsOf("line", {
  plantId: uuid,
  id: uuid,
  key: text,
  name: text,
  active: bool,
  version: int4,
});
