import "server-only";
import { existsSync, rmSync } from "node:fs";
import path from "node:path";
import { z } from "zod";
import { AppError } from "@/lib/errors";
import { environment } from "../base/env";
import { getPool } from "../db/client";
import { plantColumns } from "../db/columns/plant";
import type { RowOf } from "../db/columns/table-columns";
import { sql } from "../db/sql";
import { inSqlTransaction } from "../db/transaction";
import { defineJob } from "../jobs/define-job";
import { writeEvents } from "../outbox/write-events";
import { backupFolder, numberedName } from "./backup-place";
import { addDueRun, readSetting, removeSuperseded, WRITE } from "./backup-runs";
import { type BackupWritten, writeBackup } from "./write-backup";

const plantId = plantColumns("p", ["id"]);

export const backupDueJob = defineJob({
  name: "backup.due",
  title: "look whether a backup is due",
  schema: z.strictObject({}),
  everyS: 300,
  // The next look is the next try.
  tries: 3,
  run: async () => {
    const { rows } = await getPool().query<RowOf<typeof plantId>>(sql`select ${plantId} from plant p order by p.id`);
    for (const { id } of rows) await inSqlTransaction((db) => addDueRun(db, id));
  },
});

type Wanted = { readonly number: number; readonly askedAt: Date };

/** @returns null where it was ended meanwhile */
async function readWanted(plant: string, id: string): Promise<Wanted | null> {
  const { rows } = await getPool().query<Wanted>(sql`
    select number, asked_at as "askedAt" from backup_run where plant_id = ${plant} and id = ${id} and ended_at is null`);
  return rows[0] ?? null;
}

async function write(plant: string, { number, askedAt }: Wanted, signal: AbortSignal): Promise<BackupWritten> {
  const folder = environment("SHELLGATE_DATA");
  const passphrase = environment("SHELLGATE_BACKUP_PASSPHRASE");
  const file = path.join(backupFolder(folder), numberedName(number, askedAt));
  // Of a try that ended before it could say so.
  if (existsSync(file)) rmSync(file);
  return writeBackup({
    url: environment("DATABASE_URL"),
    folder: existsSync(folder) ? folder : null,
    file,
    withKeys: (await readSetting(getPool(), plant)).withKeys,
    passphrase: passphrase === "" ? null : passphrase,
    without: [backupFolder(folder)],
    signal,
  });
}

export const backupJob = defineJob({
  ...WRITE,
  title: "write a backup",
  deadlineS: 4 * 3600,
  run: async ({ plantId: plant, id }, { attempt, signal, finish }) => {
    const wanted = await readWanted(plant, id);
    if (wanted === null) return;
    try {
      const { file, bytes, rows, sha256, durationMs } = await write(plant, wanted, signal);
      const encrypted = environment("SHELLGATE_BACKUP_PASSPHRASE") !== "";
      await finish(async (db) => {
        await db.query(sql`
          update backup_run set ended_at = now(), file = ${file}, bytes = ${bytes}, rows = ${rows}, sha256 = ${sha256},
            seconds = ${durationMs / 1000}, encrypted = ${encrypted} where plant_id = ${plant} and id = ${id}`);
      });
      await removeSuperseded(plant);
    } catch (error) {
      if (attempt >= WRITE.tries) await noteFailure(plant, id, wanted.number, error);
      throw error;
    }
  },
});

async function noteFailure(plant: string, id: string, number: number, error: unknown): Promise<void> {
  const why =
    error instanceof AppError ? error.message : "Something unexpected happened, which the worker’s log tells more of.";
  await inSqlTransaction(async (db) => {
    const { rowCount } = await db.query(sql`
      update backup_run set ended_at = now(), failure = ${why} where plant_id = ${plant} and id = ${id} and ended_at is null`);
    if (rowCount !== 1) return;
    await writeEvents(
      db,
      plant,
      [{ topic: "backup.failed", payload: { backup: String(number), error: why }, occurrence: id }],
      new Date(),
    );
  });
}
