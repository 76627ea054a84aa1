import { z } from "zod";
import { uuidSchema } from "./uuid";
import { momentSchema } from "./moment";

export const EVENT_KINDS = ["reamer changed", "fixture shimmed", "mould cleaned", "gauge checked", "other"] as const;
export type EventKind = (typeof EVENT_KINDS)[number];

const what = {
  kind: z.enum(EVENT_KINDS),
  text: z.string().trim().min(1, "must say what was done, in a few words").max(500),
  /** Which tool, fixture, mould or gauge, as frames are labelled with it. */
  subject: z.string().trim().max(64).optional(),
};
const reason = z.string().trim().min(3, "say why, in a few words").max(500);

export const addEventSchema = z.strictObject({
  id: uuidSchema,
  /** Absent: it concerns all lines. */
  lineId: uuidSchema.optional(),
  at: momentSchema,
  ...what,
});

/** The same as a program sends it: the line by its key, and in whose place it stands, where an earlier one was wrong. */
export const sentEventSchema = z.strictObject({
  id: uuidSchema,
  line: z.string().trim().min(1).max(64).optional(),
  at: momentSchema,
  ...what,
  instead: z.strictObject({ event: uuidSchema, reason }).optional(),
});

export const correctEventSchema = z.strictObject({
  /** Of the correction. */
  id: uuidSchema,
  eventId: uuidSchema,
  reason,
  /** What was done in truth; null where nothing was. */
  instead: addEventSchema.omit({ lineId: true }).nullable(),
});

const isShownTime = (shown: string): boolean =>
  /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(?::\d{2})?$/.test(shown) && !Number.isNaN(Date.parse(`${shown}Z`));
const when = z
  .string()
  .refine((shown) => shown === "" || isShownTime(shown), "must be a day and a time such as 2026-06-05 14:30");

/** An event as its form holds it: when, as the plant's clock shows it; empty is now. */
export const eventFormSchema = addEventSchema.omit({ at: true }).extend({ when });

/** A correction as its form holds it: the keys of both rows, and when it was in truth by the plant's clock. */
export const eventCorrectionFormSchema = z.strictObject({
  id: uuidSchema,
  eventId: uuidSchema,
  reason,
  instead: z
    .strictObject({
      id: uuidSchema,
      when: z.string().refine(isShownTime, "must be a day and a time such as 2026-06-05 14:30"),
      ...what,
    })
    .nullable(),
});

export type AddEvent = z.infer<typeof addEventSchema>;
export type SentEvent = z.infer<typeof sentEventSchema>;
export type CorrectEvent = z.infer<typeof correctEventSchema>;
