"use server";

import { refresh } from "next/cache";
import { approveLimitsSchema, assignCausesSchema } from "@/lib/schemas/decision";
import { defineAction } from "@/lib/server/doors/action";
import { approveLimits, assignCauses } from "@/lib/server/drift/commands";

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
