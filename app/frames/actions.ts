"use server";

import { refresh } from "next/cache";
import { resolveDisagreementSchema, withdrawInspectionSchema } from "@/lib/schemas/decision";
import { defineAction } from "@/lib/server/doors/action";
import { resolveDisagreement } from "@/lib/server/gate/resolve-disagreement";
import { withdrawInspection } from "@/lib/server/inspections/withdraw-inspection";

export const withdrawInspectionAction = defineAction(withdrawInspectionSchema, async (viewer, input) => {
  const result = await withdrawInspection(viewer, input);
  refresh();
  return result;
});

export const resolveDisagreementAction = defineAction(resolveDisagreementSchema, async (viewer, input) => {
  const result = await resolveDisagreement(viewer, input);
  refresh();
  return result;
});
