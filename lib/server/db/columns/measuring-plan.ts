import "server-only";
import { columnsOf, text, uuid } from "./table-columns";

export const measuringPlanColumns = columnsOf("measuring_plan", {
  plantId: uuid,
  id: uuid,
  key: text,
  title: text,
  drawingId: uuid,
});
