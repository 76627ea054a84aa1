import "server-only";
import type { ChosenTest } from "@/lib/core/control/alarm/chosen-test";
import type { AlarmStream } from "@/lib/quality/alarm/alarm-streams";
import { columnsOf, instant, int4, text, texts, uuid, word, type Column } from "./table-columns";

export const streamTestsColumns = columnsOf("stream_tests", {
  plantId: uuid,
  id: uuid,
  watchId: uuid,
  stream: word<AlarmStream["key"]>(),
  version: int4,
  tests: texts as Column<readonly ChosenTest[]>,
  reason: text,
  createdAt: instant,
  personId: uuid,
});
