import "server-only";
import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import { enqueue, type Enqueued, type Querying } from "../jobs/queue";

/** The work of following a line's cases: lib/server/cases does it. */
export const ADVANCE: Enqueued<{ plantId: string; lineId: string }> = {
  name: "cases.advance",
  schema: z.strictObject({ plantId: uuidSchema, lineId: uuidSchema }),
  tries: 8,
  firstWaitS: 5,
};

/** Has the cases of a line followed, in the transaction that brings something new; what waits already is not added again. */
export async function followLine(db: Querying, plantId: string, lineId: string): Promise<void> {
  await enqueue(db, ADVANCE, { plantId, lineId }, { key: lineId });
}
