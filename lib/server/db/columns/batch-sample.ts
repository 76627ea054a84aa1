import "server-only";
import type { PlannedFrames } from "@/lib/core/sampling/planned-frames";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import type { LotPlan } from "@/lib/quality/lot-plan";
import { columnsOf, instant, jsonb, nullable, uuid } from "./table-columns";

export const batchSampleColumns = columnsOf("batch_sample", {
  plantId: uuid,
  batchId: uuid,
  schemeId: uuid,
  frames: jsonb<PlannedFrames>(),
  plan: jsonb<LotPlan>(),
  state: nullable(jsonb<SwitchingState>()),
  at: instant,
});
