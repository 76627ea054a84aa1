import "server-only";
import { bytea, columnsOf, instant, nullable, text, uuid } from "./table-columns";

export const attachmentColumns = columnsOf("attachment", {
  plantId: uuid,
  id: uuid,
  inspectionId: nullable(uuid),
  frameId: nullable(uuid),
  name: text,
  mediaType: text,
  bytes: bytea,
  contentHash: bytea,
  personId: nullable(uuid),
  at: instant,
});
