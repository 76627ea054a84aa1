import { z } from "zod";
import { sentNumber } from "./typed-number";

const count = (least: number, most: number) =>
  sentNumber("must be a whole number").pipe(
    z.int("must be a whole number").min(least, `must be ${least} to ${most}`).max(most, `must be ${least} to ${most}`),
  );

export const changeBackupSettingSchema = z.strictObject({
  enabled: z.enum(["on", "off"]),
  /** Of the plant's day. */
  at: z
    .string()
    .trim()
    .regex(/^([01]\d|2[0-3]):[0-5]\d$/, "must be a time of the day such as 02:00"),
  keepNewest: count(1, 60),
  keepWeeks: count(0, 60),
  keepMonths: count(0, 120),
  keys: z.enum(["with", "without"]),
});
export type ChangeBackupSetting = z.input<typeof changeBackupSettingSchema>;

export const askBackupSchema = z.strictObject({});
