import { z } from "zod";
import { parseReadingName } from "../core/metrology/reading-name";
import { length, revision } from "./drawing";
import { key, name } from "./keyed-name";
import { daySchema } from "./moment";
import { uuidSchema } from "./uuid";

export const readingNameSchema = z.string().superRefine((text, context) => {
  const parsed = parseReadingName(text);
  if (!parsed.ok) context.addIssue({ code: "custom", message: parsed.reason });
});

/** Which frames of a batch a plan asks for. */
export const plannedFramesSchema = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("all") }),
  z.strictObject({
    kind: z.literal("every"),
    n: z.int("must be a whole number").min(2, "must be 2 or more").max(1000, "must be at most 1000"),
    firstOff: z.boolean(),
  }),
  z.strictObject({
    kind: z.literal("drawn"),
    size: z.int("must be a whole number").min(1, "must be 1 or more").max(10_000, "must be at most 10000"),
  }),
]);

/** "06:00": when a shift begins, in the plant's own time. */
const timeOfDay = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of day such as 06:00");

const timesOfDay = z
  .array(timeOfDay)
  .min(1, "must name at least one time of day")
  .max(6, "must name at most six times of day");

/**
 * Whether the first frame of a shift, or after an event, needs an engineer's release before the line goes on. `plan` is the
 * key of a fuller plan for the same drawing, by which that frame is measured; its own plan where it is left out.
 */
export const firstOffSchema = z.discriminatedUnion("each", [
  z.strictObject({ each: z.literal("shift"), starts: timesOfDay, plan: key.optional() }),
  z.strictObject({ each: z.literal("event"), plan: key.optional() }),
]);

/** When comparators are shown their setting rings, beside after a knock and at the end of a batch. */
export const zeroCheckRuleSchema = z.strictObject({
  starts: timesOfDay.optional(),
  everyHours: z.number("must be a number").min(0.5, "must be 0.5 or more").max(72, "must be at most 72").optional(),
  everyFrames: z
    .int("must be a whole number")
    .min(1, "must be 1 or more")
    .max(10_000, "must be at most 10000")
    .optional(),
});

const celsius = z.number("must be a number").min(-20, "must be -20 or more").max(60, "must be at most 60");

/** Where sizes may be measured, degrees Celsius, and whether the station asks for the shell's temperature. */
export const temperatureRuleSchema = z
  .strictObject({ fromC: celsius, toC: celsius, asked: z.boolean() })
  .refine(({ fromC, toC }) => fromC < toC, { path: ["toC"], message: "must be above the lower end" });

const formUm = z.number("must be a number").min(0, "must not be below zero").max(1000, "must be at most 1000");

/** What the full plans of a stream show of its form, µm: it takes the place of the drawing's limits in U. */
export const knownFormSchema = z.strictObject({
  lobeUm: formUm,
  ovalityUm: formUm,
  taperUm: formUm,
  frames: z.int("must be a whole number").min(25, "must be 25 or more"),
  /** Day of the oldest sweep behind it, where it was computed from the stored ones; left out where somebody entered it. */
  since: daySchema.optional(),
});

export const planSettingsSchema = z.looseObject({
  firstOff: firstOffSchema.optional(),
  zeroCheck: zeroCheckRuleSchema.optional(),
  /** Keys of plans for the same drawing that ask for less and count all the same. */
  weakerPlans: z.array(key).max(20, "name at most 20 plans").optional(),
  temperature: temperatureRuleSchema.optional(),
  form: knownFormSchema.optional(),
  closingLimitUm: z.number("must be a number").positive("must be over zero").max(100, "must be at most 100").optional(),
});

const planContent = {
  title: name,
  drawingRevisionId: uuidSchema,
  readingNames: z
    .array(readingNameSchema)
    .min(1, "choose at least one reading")
    .max(500, "must be at most 500 readings")
    .refine((names) => new Set(names).size === names.length, "each reading stands once"),
  frames: plannedFramesSchema,
  settings: planSettingsSchema.optional(),
};

export const changePlanDraftSchema = z.strictObject({
  id: uuidSchema,
  seen: z.string().regex(/^[0-9a-f]{32}$/),
  ...planContent,
});

export const draftPlanSchema = z.strictObject({
  key,
  isNew: z.boolean().optional(),

  revision,
  ...planContent,
});

export type ChangePlanDraft = z.infer<typeof changePlanDraftSchema>;

export type FirstOffRule = z.infer<typeof firstOffSchema>;

export type ZeroCheckSetting = z.infer<typeof zeroCheckRuleSchema>;

export type PlanSettings = z.infer<typeof planSettingsSchema>;

export type DraftPlan = z.infer<typeof draftPlanSchema>;
