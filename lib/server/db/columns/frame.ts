import "server-only";
import type { FrameState } from "@/lib/quality/frame-state";
import type { Verdict } from "@/lib/quality/verdict-words";
import type { FrameEvidence } from "@/lib/quality/batch-evidence";
import { columnsOf, enumerated, instant, int2, int4, jsonb, nullable, text, uuid, word } from "./table-columns";

export const frameColumns = columnsOf("frame", {
  plantId: uuid,
  id: uuid,
  serial: text,
  batchId: uuid,
  state: enumerated<FrameState>("FrameState"),
  position: int4,
  mould: nullable(text),
  verdict: nullable(word<Verdict>()),
  judgement: jsonb<FrameEvidence["characteristics"]>(),
  judgedBy: nullable(text),
  inspections: int2,
  lastInspectionId: nullable(uuid),
  measuredAt: nullable(instant),
  leaseDeviceId: nullable(text),
  leasedAt: nullable(instant),
  concessionUntil: nullable(instant),
  evidenceFrom: nullable(instant),
  shippedAt: nullable(instant),
  version: int4,
});
