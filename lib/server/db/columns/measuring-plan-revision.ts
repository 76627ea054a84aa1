import "server-only";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import type { PlanSettings } from "@/lib/schemas/plan";
import {
  type RevisionState,
  columnsOf,
  enumerated,
  instant,
  jsonb,
  nullable,
  text,
  texts,
  uuid,
} from "./table-columns";

export const measuringPlanRevisionColumns = columnsOf("measuring_plan_revision", {
  plantId: uuid,
  id: uuid,
  planId: uuid,
  drawingRevisionId: uuid,
  revision: text,
  state: enumerated<RevisionState>("RevisionState"),
  readingNames: texts,
  frames: jsonb<PlannedFrames>(),
  settings: jsonb<PlanSettings>(),
  createdAt: instant,
  releasedAt: nullable(instant),
  releasedById: nullable(uuid),
});
