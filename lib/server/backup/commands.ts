import "server-only";
import { AppError } from "@/lib/errors";
import { type ChangeBackupSetting, changeBackupSettingSchema } from "@/lib/schemas/backup";
import { assertMay } from "../auth/permissions";
import { actorOf, type Viewer } from "../auth/viewer";
import { parseInput } from "../base/parse-input";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { appendJournal } from "../journal/append-journal";
import { addRun, readSetting } from "./backup-runs";

/**
 * Asks for a backup now; the worker writes it. One at a time.
 *
 * @throws AppError forbidden, conflict where one waits or is being written
 */
export async function askBackup(viewer: Viewer): Promise<void> {
  assertMay(viewer, "backups.manage");
  const { plantId } = viewer;
  await inSqlTransaction(async (db) => {
    await db.query(sql`select 1 as one from plant where id = ${plantId} for update`);
    if ((await addRun(db, plantId, viewer.kind === "person" ? viewer.personId : null)) === null)
      throw new AppError("conflict", "A backup is on its way already. It will stand here when it is written.");
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: new Date(),
      actor: actorOf(viewer),
      action: "backup.asked-for",
      subjects: [],
      payload: {},
    });
  });
}

/**
 * Changes when backups are written, how many are kept, and whether with the keys.
 *
 * @throws AppError forbidden, invalid-input
 */
export async function changeBackupSetting(viewer: Viewer, input: ChangeBackupSetting): Promise<void> {
  assertMay(viewer, "backups.manage");
  const { enabled, at, keys, ...keep } = parseInput(changeBackupSettingSchema, input);
  const [hour = 0, minute = 0] = at.split(":").map(Number);
  const { plantId } = viewer;
  const after = { enabled: enabled === "on", minute: hour * 60 + minute, withKeys: keys === "with", ...keep };
  await inSqlTransaction(async (db) => {
    await db.query(sql`select 1 as one from plant where id = ${plantId} for update`);
    const before = await readSetting(db, plantId);
    await db.query(sql`
      insert into backup_setting (plant_id, enabled, minute, keep_newest, keep_weeks, keep_months, with_keys)
      values (${plantId}, ${after.enabled}, ${after.minute}, ${after.keepNewest}, ${after.keepWeeks}, ${after.keepMonths}, ${after.withKeys})
      on conflict (plant_id) do update set enabled = excluded.enabled, minute = excluded.minute, keep_newest = excluded.keep_newest,
        keep_weeks = excluded.keep_weeks, keep_months = excluded.keep_months, with_keys = excluded.with_keys`);
    await appendJournal(db, {
      plantId,
      chain: "setup",
      at: new Date(),
      actor: actorOf(viewer),
      action: "backup-setting.changed",
      subjects: [],
      payload: { before, after },
    });
  });
}
