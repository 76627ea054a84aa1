import "server-only";
import type { ShellDrawing } from "@/lib/core/metrology/shell-drawing";
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

export const drawingRevisionColumns = columnsOf("drawing_revision", {
  plantId: uuid,
  id: uuid,
  drawingId: uuid,
  revision: text,
  state: enumerated<RevisionState>("RevisionState"),
  content: jsonb<ShellDrawing>(),
  featureNames: texts,
  createdAt: instant,
  releasedAt: nullable(instant),
  releasedById: nullable(uuid),
});
