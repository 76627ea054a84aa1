import { z } from "zod";
import { uuidSchema } from "./uuid";

const nameSchema = z.string().regex(/^[a-z][a-z0-9.-]{1,60}$/, "is no kind of job");

export const jobKindSchema = z.strictObject({ name: nameSchema });
export const jobSchema = z.strictObject({ name: nameSchema, id: uuidSchema });
export const giveUpJobSchema = jobSchema.extend({
  reason: z.string().trim().min(3, "say why, in a few words").max(500),
});

export type JobKind = z.infer<typeof jobKindSchema>;
export type JobKey = z.infer<typeof jobSchema>;
export type GiveUpJob = z.infer<typeof giveUpJobSchema>;
