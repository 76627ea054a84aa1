import "server-only";
import { statfs } from "node:fs/promises";
import path from "node:path";
import { assertMay } from "../auth/permissions";
import type { Viewer } from "../auth/viewer";
import { environment } from "../base/env";
import { getPool } from "../db/client";
import { nameThen } from "../db/name-then";
import { sql } from "../db/sql";
import { backupFolder } from "./backup-place";
import { type BackupSetting, readSetting } from "./backup-runs";

/** One backup; moments ISO 8601. Under way while it has no end. */
export type BackupItem = {
  readonly id: string;
  readonly number: number;
  readonly askedAt: string;
  /** Null: by the schedule. */
  readonly askedBy: string | null;
  readonly endedAt: string | null;
  readonly file: string | null;
  readonly bytes: number | null;
  readonly rows: number | null;
  readonly sha256: string | null;
  readonly seconds: number | null;
  readonly encrypted: boolean;
  readonly failure: string | null;
  readonly removedAt: string | null;
};

export type BackupPage = {
  readonly setting: BackupSetting;
  readonly folder: string;
  /** Of the disk that the folder is on; null where this machine cannot tell. */
  readonly freeBytes: number | null;
  readonly encrypts: boolean;
  readonly newestAt: string | null;
  readonly runs: readonly BackupItem[];
};

const SHOWN = 40;

async function freeBytesOf(folder: string): Promise<number | null> {
  for (const place of [folder, path.dirname(folder)])
    try {
      const { bavail, bsize } = await statfs(place);
      return bavail * bsize;
    } catch {
      // Not made yet: the folder that it will be in.
    }
  return null;
}

type Moments = "askedAt" | "endedAt" | "removedAt";
type Row = Omit<BackupItem, Moments | "bytes" | "rows"> & {
  askedAt: Date;
  endedAt: Date | null;
  removedAt: Date | null;
  bytes: string | null;
  rows: string | null;
};

const numberOf = (text: string | null): number | null => (text === null ? null : Number(text));

/** The newest backups, when the next is due, and where they lie. */
export async function getBackups(viewer: Viewer): Promise<BackupPage> {
  assertMay(viewer, "backups.view");
  const { plantId } = viewer;
  const folder = backupFolder(environment("SHELLGATE_DATA"));
  const [setting, freeBytes, { rows }] = await Promise.all([
    readSetting(getPool(), plantId),
    freeBytesOf(folder),
    getPool().query<Row>(sql`
      select r.id, r.number, r.asked_at as "askedAt", ${nameThen("p", "r.asked_at")} as "askedBy", r.ended_at as "endedAt", r.file,
        r.bytes, r.rows, r.sha256, r.seconds, r.encrypted, r.failure, r.removed_at as "removedAt"
      from backup_run r left join person p on p.plant_id = r.plant_id and p.id = r.asked_by_id
      where r.plant_id = ${plantId} order by r.number desc limit ${SHOWN}`),
  ]);
  const runs = rows.map((row): BackupItem => ({
    ...row,
    askedAt: row.askedAt.toISOString(),
    endedAt: row.endedAt?.toISOString() ?? null,
    removedAt: row.removedAt?.toISOString() ?? null,
    bytes: numberOf(row.bytes),
    rows: numberOf(row.rows),
  }));
  const newest = runs.find(({ endedAt, failure }) => endedAt !== null && failure === null);
  const encrypts = environment("SHELLGATE_BACKUP_PASSPHRASE") !== "";
  return { setting, folder, freeBytes, encrypts, newestAt: newest?.endedAt ?? null, runs };
}
