import "server-only";
import { constant } from "../sql";
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

/** Of `event`: nobody has said that it was another, or none. */
export const notCorrected = constant(`not exists (
  select 1 from event_correction c where c.plant_id = event.plant_id and c.event_id = event.id)`);
