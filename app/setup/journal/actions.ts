"use server";

import { refresh } from "next/cache";
import { askJournalCheckSchema } from "@/lib/schemas/journal-check";
import { askJournalCheck } from "@/lib/server/audit/journal-checks";
import { defineAction } from "@/lib/server/doors/action";

export const askJournalCheckAction = defineAction(askJournalCheckSchema, async (viewer, input) => {
  await askJournalCheck(viewer, input);
  refresh();
  return null;
});
