import { z } from "zod";

/** A check of the whole journal, against an anchor that was kept outside if there is one. */
export const askJournalCheckSchema = z.strictObject({
  anchor: z
    .string()
    .trim()
    .toLowerCase()
    .regex(/^(?:[0-9a-f]{64})?$/, "must be the 64 letters and digits of an anchor, or empty")
    .default(""),
});
export type AskJournalCheck = z.input<typeof askJournalCheckSchema>;
