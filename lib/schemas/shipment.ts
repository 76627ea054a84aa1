import { z } from "zod";
import { uuidSchema } from "./uuid";

/** One ship scan. `id` is made by the sender (UUID version 7), so that a repeated send gets the same answer. */
export const shipFrameSchema = z.strictObject({
  id: uuidSchema,
  serial: z.string().trim().min(1).max(64),
});

export type ShipFrame = z.infer<typeof shipFrameSchema>;
