import "server-only";
import type { SwitchingState } from "@/lib/core/sampling/switching";
import { bool, columnsOf, instant, int4, jsonb, texts, uuid } from "./table-columns";

export const sampledLotColumns = columnsOf("sampled_lot", {
  plantId: uuid,
  batchId: uuid,
  schemeId: uuid,
  place: int4,
  found: texts,
  accepted: bool,
  acceptedTighter: bool,
  state: jsonb<SwitchingState>(),
  at: instant,
});
