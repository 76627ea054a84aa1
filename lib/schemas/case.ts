import { z } from "zod";
import { sentNumber } from "./typed-number";
import { uuidSchema } from "./uuid";
import { momentSchema } from "./moment";

const caseId = uuidSchema;
const reason = z.string().trim().min(3, "say it in a few words").max(2000);
/** A tick of a form is "on" or not there. */
const tick = z.union([z.boolean(), z.literal("on").transform(() => true)]).default(false);

/** Who looks after a case; empty for nobody. */
export const assignOwnerSchema = z.strictObject({
  caseId,
  ownerId: z.union([uuidSchema, z.literal("").transform(() => null), z.null()]),
});
/** What was done or found, or what is to be done. */
export const noteStepSchema = z.strictObject({ caseId, text: reason, isPlanned: tick });
/** What was to be done is done, with what was found if anything. */
export const tickStepSchema = z.strictObject({
  caseId,
  stepId: uuidSchema,
  found: z.string().trim().max(2000).default(""),
});
/** The cause: one of the table, or one of the plant's own as "own: NAME". */
export const assignCaseCauseSchema = z.strictObject({
  caseId,
  cause: z.string().trim().min(3, "name the cause in a few words").max(100),
});
/** Ends a case; with a new level its streams begin anew where the change was, with what is measured since as normal. */
export const closeCaseSchema = z.strictObject({ caseId, reason, hasNewLevel: tick });
export const reopenCaseSchema = z.strictObject({ caseId, reason });
/** False cases a working week that the plant bears in all. */
export const setBudgetSchema = z.strictObject({
  budget: sentNumber("must be a number such as 1 or 0.5").pipe(
    z
      .number()
      .min(0.05, "must be at least 0.05: with fewer false cases even large changes are found late")
      .max(50, "must be at most 50: nobody looks at more"),
  ),
});

/** The database counts cases in 32 bits. */
const HIGHEST_NUMBER = 2 ** 31 - 1;

export const caseParamsSchema = z.strictObject({ id: uuidSchema });
/** Cases, the newest number first; `before` is the number that the page before ended with. */
export const listCasesSchema = z.strictObject({
  open: z.enum(["true", "false"]).optional(),
  line: z.string().trim().min(1).max(64).optional(),
  since: momentSchema.optional(),
  before: z.coerce.number().int().min(1).max(HIGHEST_NUMBER).optional(),
  limit: z.coerce.number().int().min(1).max(200).default(50),
});

export type AssignOwner = z.infer<typeof assignOwnerSchema>;
export type NoteStep = z.input<typeof noteStepSchema>;
export type TickStep = z.input<typeof tickStepSchema>;
export type AssignCaseCause = z.infer<typeof assignCaseCauseSchema>;
export type CloseCase = z.infer<typeof closeCaseSchema>;
export type ReopenCase = z.infer<typeof reopenCaseSchema>;
export type ListCases = z.infer<typeof listCasesSchema>;
