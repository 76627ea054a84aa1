"use server";

import { refresh } from "next/cache";
import { approveBaselineSchema, chooseTestsSchema, rollBackBaselineSchema } from "@/lib/schemas/baseline";
import { approveBaseline, rollBackBaseline } from "@/lib/server/cases/baseline-commands";
import { chooseTests } from "@/lib/server/cases/choose-tests";
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

export const chooseTestsAction = defineAction(chooseTestsSchema, async (viewer, input) => {
  const result = await chooseTests(viewer, input);
  refresh();
  return result;
});
