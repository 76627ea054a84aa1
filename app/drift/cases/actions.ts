"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import {
  assignCaseCauseSchema,
  assignOwnerSchema,
  closeCaseSchema,
  noteStepSchema,
  reopenCaseSchema,
  setBudgetSchema,
  tickStepSchema,
} from "@/lib/schemas/case";
import {
  assignCaseCause,
  assignOwner,
  closeCase,
  noteStep,
  reopenCase,
  setBudget,
  tickStep,
} from "@/lib/server/cases/commands";
import { defineAction } from "@/lib/server/doors/action";

export const assignOwnerAction = defineAction(assignOwnerSchema, async (viewer, input) => {
  await assignOwner(viewer, input);
  refresh();
  return null;
});

export const noteStepAction = defineAction(noteStepSchema, async (viewer, input) => {
  await noteStep(viewer, input);
  refresh();
  return null;
});

export const tickStepAction = defineAction(tickStepSchema, async (viewer, input) => {
  await tickStep(viewer, input);
  refresh();
  return null;
});

/** A cause of the list, or one of the plant's own in a field beside it. */
const causeFormSchema = z
  .strictObject({ caseId: z.string(), cause: z.string().optional(), own: z.string().trim().max(80).optional() })
  .transform(({ caseId, cause = "", own = "" }) => ({ caseId, cause: own === "" ? cause : `own: ${own}` }))
  .pipe(assignCaseCauseSchema);

export const assignCaseCauseAction = defineAction(causeFormSchema, async (viewer, input) => {
  await assignCaseCause(viewer, input);
  refresh();
  return null;
});

export const closeCaseAction = defineAction(closeCaseSchema, async (viewer, input) => {
  await closeCase(viewer, input);
  refresh();
  return null;
});

export const reopenCaseAction = defineAction(reopenCaseSchema, async (viewer, input) => {
  await reopenCase(viewer, input);
  refresh();
  return null;
});

export const setBudgetAction = defineAction(setBudgetSchema, async (viewer, input) => {
  await setBudget(viewer, input);
  refresh();
  return null;
});
