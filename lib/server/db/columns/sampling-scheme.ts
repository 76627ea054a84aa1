import "server-only";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import type { LotScheme } from "@/lib/quality/lot-plan";
import { columnsOf, instant, int4, jsonb, nullable, text, uuid } from "./table-columns";

export const samplingSchemeColumns = columnsOf("sampling_scheme", {
  plantId: uuid,
  id: uuid,
  supplierId: uuid,
  modelId: uuid,
  version: int4,
  scheme: jsonb<LotScheme>(),
  state: nullable(jsonb<SwitchingState>()),
  reason: text,
  personId: uuid,
  createdAt: instant,
});
