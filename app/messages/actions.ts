"use server";

import { refresh } from "next/cache";
import { acknowledgeSchema } from "@/lib/schemas/messages";
import { defineAction } from "@/lib/server/doors/action";
import { acknowledgeMessage } from "@/lib/server/messages/inbox";

export const acknowledgeAction = defineAction(acknowledgeSchema, async (viewer, input) => {
  await acknowledgeMessage(viewer, input);
  refresh();
  return null;
});
