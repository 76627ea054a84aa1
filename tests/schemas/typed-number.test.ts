import { expect, it } from "vitest";
import { changeBackupSettingSchema } from "@/lib/schemas/backup";
import { seenVersion, sentNumber } from "@/lib/schemas/typed-number";

it.each([[3], ["3"], [" 3 "]])("takes %j for a number", (sent) => {
  expect(sentNumber().parse(sent)).toBe(3);
  expect(seenVersion.parse(sent)).toBe(3);
});

it.each([[true], [[3]], [null], [""], ["3e2"], ["0x3"], [undefined]])("takes %j for none, in words", (sent) => {
  expect(sentNumber().safeParse(sent).error?.issues[0]?.message).toMatch(/^must be /);
});

it("does not keep 0 backups where the field was emptied", () => {
  const setting = { enabled: "on", at: "02:00", keepNewest: "7", keepWeeks: "4", keepMonths: "", keys: "with" };
  expect(changeBackupSettingSchema.safeParse(setting).success).toBe(false);
  expect(changeBackupSettingSchema.parse({ ...setting, keepMonths: "0" })).toMatchObject({ keepMonths: 0 });
});
