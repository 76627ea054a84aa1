import "server-only";
import { createHash } from "node:crypto";
import type pg from "pg";
import type { EventFacts } from "@/lib/quality/messages/event-facts";
import type { EventKind } from "@/lib/quality/messages/event-kinds";
import { z } from "zod";
import { uuidV7 } from "@/lib/schemas/identifier";
import { uuidSchema } from "@/lib/schemas/uuid";
import { prepared, sql } from "../db/sql";
import { enqueue, type Enqueued } from "../jobs/queue";
import { canonicalJson } from "../journal/canonical-json";

/** An event as it is written: who tells of it finds the rest by these. */
export type WrittenEvent =
  | { readonly topic: "batch.held"; readonly payload: { readonly id: string } }
  | { readonly topic: "escape.opened"; readonly payload: { readonly serial: string; readonly inspection?: string } }
  | FactsOf<"gauge.failed">
  | FactsOf<"gauge.due">
  | FactsOf<"device.silent">
  | FactsOf<"decision.waiting">
  | FactsOf<"job.failed">
  | FactsOf<"backup.failed">
  | FactsOf<"backup.old">
  | { readonly topic: "case.opened" | "case.back"; readonly payload: { readonly id: string } }
  | {
      readonly topic: "case.forecast";
      readonly payload: { readonly id: string; readonly framesToLimit: number; readonly framesToChange: number };
      readonly occurrence: string;
    };

type FactsOf<K extends EventKind> = {
  readonly topic: K;
  readonly payload: Omit<Extract<EventFacts, { kind: K }>, "kind">;
  /** Of what is found by looking again and again: found twice under the same words, it is one event. */
  readonly occurrence?: string;
};

/** A key that follows from what was found, as a UUID of version 8 (RFC 9562, section 5.8). */
function foundKey(plantId: string, topic: string, occurrence: string): string {
  const bytes = createHash("sha256")
    .update(JSON.stringify([plantId, topic, occurrence]))
    .digest();
  bytes[6] = 0x80 | ((bytes[6] ?? 0) & 0x0f);
  bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
  const text = bytes.toString("hex");
  return [text.slice(0, 8), text.slice(8, 12), text.slice(12, 16), text.slice(16, 20), text.slice(20, 32)].join("-");
}

/** The work of telling, which begins as soon as the transaction is there. `lib/server/messages` does it. */
export const TELL: Enqueued<{ plantId: string }> = {
  name: "messages.tell",
  schema: z.strictObject({ plantId: uuidSchema }),
  tries: 8,
  firstWaitS: 2,
};

/** Writes what others are to be told of, in the transaction of what happened. An event that was found before is not written again. */
export async function writeEvents(
  db: pg.ClientBase,
  plantId: string,
  events: readonly WrittenEvent[],
  now: Date,
): Promise<void> {
  if (events.length === 0) return;
  const idOf = (event: WrittenEvent): string =>
    "occurrence" in event && event.occurrence !== undefined
      ? foundKey(plantId, event.topic, event.occurrence)
      : uuidV7(now.getTime());
  await db.query(
    prepared(
      "write-events",
      sql`insert into outbox (plant_id, id, topic, payload, created_at)
        select ${plantId}, r.id, r.topic, r.payload::jsonb, ${now}::timestamptz
        from unnest(${events.map(idOf)}::uuid[], ${events.map((one) => one.topic)}::text[],
          ${events.map((one) => canonicalJson(one.payload))}::text[]) with ordinality as r(id, topic, payload, place)
        order by r.place on conflict do nothing`,
    ),
  );
  // Without a key: one that waits might be begun before this transaction ends, and would not see what it wrote.
  await enqueue(db, TELL, { plantId });
}
