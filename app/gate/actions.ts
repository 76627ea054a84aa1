"use server";

import { refresh } from "next/cache";
import {
  acceptSampleRiskSchema,
  closeEscapesSchema,
  decideGroupsSchema,
  releaseBatchSchema,
} from "@/lib/schemas/decision";
import { setSamplingSchema } from "@/lib/schemas/sampling-scheme";
import { shipFrameSchema } from "@/lib/schemas/shipment";
import { setSampling } from "@/lib/server/batches/set-sampling";
import { defineAction } from "@/lib/server/doors/action";
import { acceptSampleRisk } from "@/lib/server/gate/accept-sample-risk";
import { closeEscapes } from "@/lib/server/gate/escapes";
import { decideGroups, releaseBatch } from "@/lib/server/gate/commands";
import { shipFrame } from "@/lib/server/shipments/ship-frame";

export const decideGroupsAction = defineAction(
  decideGroupsSchema,
  async (viewer, input) => {
    const result = await decideGroups(viewer, input);
    refresh();
    return result;
  },
  { maxCharacters: 800_000 },
);

export const releaseBatchAction = defineAction(releaseBatchSchema, async (viewer, input) => {
  await releaseBatch(viewer, input);
  refresh();
  return null;
});

export const acceptSampleRiskAction = defineAction(acceptSampleRiskSchema, async (viewer, input) => {
  await acceptSampleRisk(viewer, input);
  refresh();
  return null;
});

export const shipFrameAction = defineAction(shipFrameSchema, (viewer, input) => shipFrame(viewer, input));

export const closeEscapesAction = defineAction(closeEscapesSchema, async (viewer, input) => {
  await closeEscapes(viewer, input);
  refresh();
  return null;
});

export const setSamplingAction = defineAction(setSamplingSchema, async (viewer, input) => {
  const result = await setSampling(viewer, input);
  refresh();
  return result;
});
