import "server-only";
import { columnsOf, instant, nullable, text, uuid } from "./table-columns";

export const eventColumns = columnsOf("event", {
  plantId: uuid,
  id: uuid,
  lineId: nullable(uuid),
  kind: text,
  at: instant,
  text: text,
  subject: nullable(text),
  personId: nullable(uuid),
});
