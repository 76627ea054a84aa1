import "server-only";
import { bool, columnsOf, instant, nullable, text, uuid } from "./table-columns";

export const personColumns = columnsOf("person", {
  plantId: uuid,
  id: uuid,
  name: text,
  badgeCode: nullable(text),
  userId: nullable(text),
  active: bool,
  createdAt: instant,
});
