"use server";

import { refresh } from "next/cache";
import { eventCorrectionFormSchema, eventFormSchema } from "@/lib/schemas/event";
import { plantMoment } from "@/lib/schemas/plant-day";
import { defineAction } from "@/lib/server/doors/action";
import { addEvent, correctEvent } from "@/lib/server/events/commands";

export const addEventAction = defineAction(eventFormSchema, async (viewer, { when, ...event }) => {
  const at = when === "" ? new Date() : plantMoment(when, viewer.plantZone);
  await addEvent(viewer, { ...event, at: at.toISOString() });
  refresh();
  return null;
});

export const correctEventAction = defineAction(
  eventCorrectionFormSchema,
  async (viewer, { instead, ...correction }) => {
    if (instead === null) await correctEvent(viewer, { ...correction, instead });
    else {
      const { when, ...event } = instead;
      await correctEvent(viewer, {
        ...correction,
        instead: { ...event, at: plantMoment(when, viewer.plantZone).toISOString() },
      });
    }
    refresh();
    return null;
  },
);
