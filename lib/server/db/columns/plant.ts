import "server-only";
import { bool, columnsOf, instant, int4, text, uuid } from "./table-columns";

export const plantColumns = columnsOf("plant", {
  id: uuid,
  key: text,
  name: text,
  timeZone: text,
  invented: bool,
  createdAt: instant,
  version: int4,
});
