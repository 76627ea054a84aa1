import { z } from "zod";
import { uuidSchema } from "./uuid";
import { momentSchema } from "./moment";

/** What a document can be about. */
export const paperSchema = z.discriminatedUnion("kind", [
  z.strictObject({
    kind: z.literal("stream"),
    streamId: uuidSchema,
    /** The newest frames. */
    frames: z.number().int().min(1).max(5000),
  }),
  z
    .strictObject({
      kind: z.literal("shift"),
      line: z.string().trim().min(1).max(64),
      from: momentSchema,
      to: momentSchema,
    })
    .refine(({ from, to }) => Date.parse(from) < Date.parse(to), { path: ["to"], message: "must lie after its begin" })
    .refine(({ from, to }) => Date.parse(to) - Date.parse(from) <= 7 * 86_400_000, {
      path: ["to"],
      message: "must lie at most 7 days after its begin",
    }),
]);
export type PaperAbout = z.infer<typeof paperSchema>;

export const askPaperSchema = z.strictObject({ id: uuidSchema, about: paperSchema });
export type AskPaper = z.infer<typeof askPaperSchema>;
