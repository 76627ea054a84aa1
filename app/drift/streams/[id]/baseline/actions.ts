"use server";

import { refresh } from "next/cache";
import { approveBaselineSchema, rollBackBaselineSchema } from "@/lib/schemas/baseline";
import { approveBaseline, rollBackBaseline } from "@/lib/server/cases/baseline-commands";
import { defineAction } from "@/lib/server/doors/action";

export const approveBaselineAction = defineAction(approveBaselineSchema, async (viewer, input) => {
  const result = await approveBaseline(viewer, input);
  refresh();
  return result;
});

export const rollBackBaselineAction = defineAction(rollBackBaselineSchema, async (viewer, input) => {
  const result = await rollBackBaseline(viewer, input);
  refresh();
  return result;
});
