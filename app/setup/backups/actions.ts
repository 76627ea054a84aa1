"use server";

import { refresh } from "next/cache";
import { askBackupSchema, changeBackupSettingSchema } from "@/lib/schemas/backup";
import { askBackup, changeBackupSetting } from "@/lib/server/backup/commands";
import { defineAction } from "@/lib/server/doors/action";

export const askBackupAction = defineAction(askBackupSchema, async (viewer) => {
  await askBackup(viewer);
  refresh();
  return null;
});

export const changeBackupSettingAction = defineAction(changeBackupSettingSchema, async (viewer, input) => {
  await changeBackupSetting(viewer, input);
  refresh();
  return null;
});
