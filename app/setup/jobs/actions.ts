"use server";

import { refresh } from "next/cache";
import { giveUpJobSchema, jobKindSchema, jobSchema } from "@/lib/schemas/job";
import { defineAction } from "@/lib/server/doors/action";
import { giveUpJob, tryJobAgain, tryKindAgain } from "@/lib/server/worker/job-commands";

export const tryJobAgainAction = defineAction(jobSchema, async (viewer, input) => {
  await tryJobAgain(viewer, input);
  refresh();
  return null;
});

export const tryKindAgainAction = defineAction(jobKindSchema, async (viewer, input) => {
  await tryKindAgain(viewer, input);
  refresh();
  return null;
});

export const giveUpJobAction = defineAction(giveUpJobSchema, async (viewer, input) => {
  await giveUpJob(viewer, input);
  refresh();
  return null;
});
