"use server";

import { refresh } from "next/cache";
import { withdrawInspectionSchema } from "@/lib/schemas/decision";
import { defineAction } from "@/lib/server/action";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";

export const withdrawInspectionAction = defineAction(withdrawInspectionSchema, async (viewer, input) => {
  const result = await withdrawInspection(viewer, input);
  refresh();
  return result;
});
