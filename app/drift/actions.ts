"use server";

import { refresh } from "next/cache";
import { approveLimitsSchema } from "@/lib/schemas/decision";
import { defineAction } from "@/lib/server/doors/action";
import { approveLimits } from "@/lib/server/drift/commands";

export const approveLimitsAction = defineAction(approveLimitsSchema, async (viewer, input) => {
  const result = await approveLimits(viewer, input);
  refresh();
  return result;
});
