import "server-only";
import { z } from "zod";
import { uuidSchema } from "@/lib/schemas/uuid";
import type { Enqueued } from "../jobs/queue";

// Added without a key, since one that waits might be begun before the transaction that adds another is there.

/** The mails of a plant that are due. */
export const MAIL: Enqueued<{ plantId: string }> = {
  name: "messages.mail",
  schema: z.strictObject({ plantId: uuidSchema }),
  tries: 8,
  firstWaitS: 5,
};

/** The calls of a webhook that are due. */
export const WEBHOOK: Enqueued<{ plantId: string; webhookId: string }> = {
  name: "messages.webhook",
  schema: z.strictObject({ plantId: uuidSchema, webhookId: uuidSchema }),
  tries: 8,
  firstWaitS: 5,
};

export type SendingOptions = {
  /** The time, asked before each try; what is signed carries the machine's own. */
  readonly clock?: () => Date;
  /** No further try is begun once it is aborted. */
  readonly signal?: AbortSignal;
};
