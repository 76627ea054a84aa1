"use server";

import { refresh } from "next/cache";
import { addEventSchema, approveLimitsSchema, assignCausesSchema } from "@/lib/schemas/decision";
import { defineAction } from "@/lib/server/action";
import { addEvent, approveLimits, assignCauses } from "@/lib/server/drift/commands";

export const approveLimitsAction = defineAction(approveLimitsSchema, async (viewer, input) => {
  const result = await approveLimits(viewer, input);
  refresh();
  return result;
});

export const assignCausesAction = defineAction(
  assignCausesSchema,
  async (viewer, input) => {
    const result = await assignCauses(viewer, input);
    refresh();
    return result;
  },
  { maxCharacters: 110_000 },
);

export const addEventAction = defineAction(addEventSchema, async (viewer, input) => {
  await addEvent(viewer, input);
  refresh();
  return null;
});
