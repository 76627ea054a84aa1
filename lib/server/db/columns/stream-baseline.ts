import "server-only";
import type { AlarmRegion } from "@/lib/quality/alarm/alarm-region";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import type { StartedStream } from "@/lib/quality/alarm/run-line";
import { columnsOf, float8, instant, int4, jsonb, list, nullable, text, uuid, uuids, word } from "./table-columns";

/** Frames of a stretch that are not in its baseline, by their inspections. */
type LeftOut = {
  readonly failing: readonly string[];
  /** With the cause that somebody assigned to an outlier; null where a case has it. */
  readonly assigned: readonly { readonly frame: string; readonly cause: string | null }[];
};

export const streamBaselineColumns = columnsOf("stream_baseline", {
  plantId: uuid,
  id: uuid,
  watchId: uuid,
  stream: word<AlarmStream["key"]>(),
  version: int4,
  kind: word<"automatic" | "approved" | "rolled-back">(),
  ofVersion: nullable(int4),
  frames: uuids,
  ages: list<number>(int4),
  leftOut: jsonb<LeftOut>(),
  outliers: uuids,
  centre: list<number>(float8),
  sd: float8,
  region: jsonb<AlarmRegion>(),
  started: jsonb<StartedStream>(),
  afterAt: instant,
  afterId: uuid,
  caseId: nullable(uuid),
  reason: text,
  createdAt: instant,
  personId: nullable(uuid),
});
