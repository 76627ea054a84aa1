"use server";

import { refresh } from "next/cache";
import { z } from "zod";
import { changeDeviceSchema, deviceSchema, revokeDeviceSchema } from "@/lib/schemas/line";
import { defineAction } from "@/lib/server/doors/action";
import { giveUpFrame } from "@/lib/server/inspections/lease-frame";
import { renameDevice, restoreDevice, revokeDevice } from "@/lib/server/line/devices";
import { PLANT_WORDS } from "../words/plant";

const words = PLANT_WORDS.deviceAnswers;

export const revokeDeviceAction = defineAction(revokeDeviceSchema, async (viewer, input) => {
  await revokeDevice(viewer, input);
  refresh();
  return null;
});

export const restoreDeviceAction = defineAction(deviceSchema, async (viewer, { id }) => {
  await restoreDevice(viewer, id);
  refresh();
  return null;
});

export const renameDeviceAction = defineAction(changeDeviceSchema, async (viewer, input) => {
  await renameDevice(viewer, input);
  refresh();
  return null;
});

/** Another's measurement: never without a reason. */
const giveUpSchema = z.strictObject({
  serial: z.string().trim().min(1).max(64),
  reason: z.string().trim().min(3, words.sayWhy).max(500),
});

export const giveUpFrameAction = defineAction(giveUpSchema, async (viewer, input) => {
  await giveUpFrame(viewer, input);
  refresh();
  return null;
});
