"use server";

import { refresh } from "next/cache";
import { approveLimitsSchema, assignCausesSchema, eventFormSchema } from "@/lib/schemas/decision";
import { plantMoment } from "@/lib/schemas/plant-day";
import { defineAction } from "@/lib/server/doors/action";
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

export const addEventAction = defineAction(eventFormSchema, async (viewer, { when, ...event }) => {
  const at = when === "" ? new Date() : plantMoment(when, viewer.plantZone);
  await addEvent(viewer, { ...event, at: at.toISOString() });
  refresh();
  return null;
});
