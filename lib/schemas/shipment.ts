import { z } from "zod";

/** One ship scan. `id` is made by the sender (UUID version 7), so that a repeated send gets the same answer. */
export const shipFrameSchema = z.strictObject({
  id: z.uuid(),
  serial: z.string().trim().min(1).max(64),
});

export type ShipFrame = z.infer<typeof shipFrameSchema>;
