import { z } from "zod";
import { key, name } from "./keyed-name";

export const createBatchSchema = z.strictObject({
  key,
  supplier: key,
  model: key,
  line: key,
  plan: key,
  serials: z
    .array(z.strictObject({ serial: z.string().trim().min(1).max(64), mould: z.string().trim().max(64).optional() }))
    .min(1, "name at least one frame")
    .max(10_000)
    .superRefine((list, context) => {
      const seen = new Set<string>();
      list.forEach(({ serial }, place) => {
        if (seen.has(serial)) context.addIssue({ code: "custom", path: [place], message: `${serial} stands twice` });
        seen.add(serial);
      });
    }),
});

export type CreateBatch = z.infer<typeof createBatchSchema>;
