import { z } from "zod";
import { daySchema, momentSchema } from "./moment";

/** What a frame's evidence can rest on. */
export const TRACE_SUBJECTS = ["gauge", "ring", "inspector", "device", "drawing", "plan"] as const;
export type TraceSubject = (typeof TRACE_SUBJECTS)[number];

/** Frames of one answer; all of them are in the CSV. */
export const MOST_TRACED = 1000;

const key = z.string().trim().min(1).max(100);

const EITHER = "must be a day such as 2026-06-05, or a moment, in the years 1900 to 2999";

/**
 * What is traced back: `of` a gauge or ring by its key, an inspector, device, drawing revision or plan revision by its id; between
 * two days of the plant's clock, both included, or two moments; open where left out.
 */
export const traceBackSchema = z.strictObject({
  of: z.enum(TRACE_SUBJECTS),
  key,
  from: z.union([daySchema, momentSchema], EITHER).optional(),
  to: z.union([daySchema, momentSchema], EITHER).optional(),
});
export type TraceBackQuery = z.infer<typeof traceBackSchema>;
