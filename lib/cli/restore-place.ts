import { existsSync, readdirSync, renameSync, rmdirSync, rmSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";
import type { About } from "@/lib/server/backup/backup-contents";
import { emptyDatabase, loadBackup } from "@/lib/server/backup/load-backup";
import { writePlantFile } from "@/lib/server/backup/plant-files";
import { closeConnections } from "@/lib/server/db/client";
import { DATABASE_NAME, startEmbedded } from "@/lib/server/db/embedded";
import { checkServerVersion } from "@/lib/server/db/migrate";
import { type DatabaseAddresses, prepareDatabase } from "@/lib/server/db/prepare-database";
import { isRunning } from "@/lib/server/db/process-state";
import { type JournalReport, verifyJournal } from "@/lib/server/journal/verify-journal";
import { keepChildren } from "./children";
import { claimDataFolder, prepareDataFolder } from "./data-folder";
import { interrupted } from "./interrupted";

export type RestoreWish = {
  readonly file: string;
  /** Where the plant is to lie. */
  readonly folder: string;
  readonly askPassphrase: () => Promise<string | null>;
  readonly onProgress: (words: string) => void;
};

export type Restored = {
  readonly about: About;
  readonly rows: Readonly<Record<string, number>>;
  /** Names of the plant's own files. */
  readonly files: readonly string[];
  /** Migrations that were applied after it. */
  readonly migrated: number;
  /** What was found of each plant's journal; the anchor is that of the backup. */
  readonly journals: readonly {
    readonly name: string;
    readonly report: JournalReport;
    readonly anchor: string | null;
  }[];
  /** Where it lies, in words. */
  readonly place: string;
  readonly durationMs: number;
};

/** @throws AppError conflict where something lies there */
function assertEmptyFolder(folder: string): void {
  let found: readonly string[];
  try {
    found = existsSync(folder) ? readdirSync(folder) : [];
  } catch (error) {
    throw new AppError(
      "conflict",
      `${folder} is no folder that can be read. Nothing was changed; give another with --data.`,
      {
        cause: error,
      },
    );
  }
  if (found.length === 0) return;
  throw new AppError(
    "conflict",
    `${folder} is not empty (${found.slice(0, 3).join(", ")}). Nothing was changed: a backup is restored into an empty place. Give another with --data, or move that folder away first.`,
  );
}

type Made = Omit<Restored, "place" | "durationMs">;

/** Loads, brings to this version, and proves. */
async function loadAndProve(
  { file, askPassphrase, onProgress }: RestoreWish,
  addresses: DatabaseAddresses,
  filesFolder: string,
): Promise<Made> {
  const files: string[] = [];
  const keep = (name: string, content: Buffer, mode: number): void => {
    writePlantFile(filesFolder, name, content, mode);
    files.push(name);
  };
  const { about, contents, rows } = await loadBackup(addresses.ownerUrl, file, askPassphrase, keep, onProgress);
  onProgress("bringing the tables to this version");
  const { applied } = await prepareDatabase(addresses);
  process.env.DATABASE_URL = addresses.appUrl;
  const journals: Restored["journals"][number][] = [];
  try {
    for (const { id, name } of about.plants) {
      onProgress(`checking the journal of ${name}`);
      const anchor = contents.anchors.find(({ plantId }) => plantId === id)?.hash ?? null;
      const report = await verifyJournal(id, anchor === null ? {} : { anchor });
      journals.push({ name, report, anchor });
    }
  } finally {
    await closeConnections();
  }
  return { about, rows, files, migrated: applied.length, journals };
}

function brokenOff(): Promise<never> {
  const signal = interrupted("The restore was broken off. Nothing was made.");
  return new Promise((_resolve, reject) => signal.addEventListener("abort", () => reject(signal.reason)));
}

/** What killed restores left beside a folder. */
function removeLeftovers(folder: string): void {
  const parent = path.dirname(folder);
  if (!existsSync(parent)) return;
  for (const name of readdirSync(parent)) {
    const pid = name.startsWith(`${path.basename(folder)}.restoring-`) ? Number(name.split("-").at(-1)) : Number.NaN;
    if (Number.isInteger(pid) && !isRunning(pid)) rmSync(path.join(parent, name), { recursive: true, force: true });
  }
}

/**
 * Makes a plant's folder of a backup: beside its place, and moved there once it is proven whole.
 *
 * @throws AppError in words; nothing is left then
 */
export async function restoreIntoFolder(wish: RestoreWish): Promise<Restored> {
  const from = performance.now();
  const { folder, onProgress } = wish;
  assertEmptyFolder(folder);
  removeLeftovers(folder);
  const beside = `${folder}.restoring-${process.pid}`;
  prepareDataFolder(beside);
  try {
    const claim = claimDataFolder(beside, "npm run restore");
    onProgress("starting a database");
    const server = await startEmbedded({ folder: beside });
    const children = keepChildren();
    children.guardDatabase(server.pid);
    let made: Made;
    try {
      const addresses = { ownerUrl: server.url(DATABASE_NAME), appUrl: server.appUrl(DATABASE_NAME) };
      made = await Promise.race([loadAndProve(wish, addresses, beside), brokenOff()]);
    } finally {
      await server.stop();
      children.dismissGuard();
    }
    claim.release();
    rmSync(path.join(beside, "postgres.log"), { force: true });
    // Somebody may have put something there meanwhile.
    assertEmptyFolder(folder);
    if (existsSync(folder)) rmdirSync(folder);
    renameSync(beside, folder);
    return { ...made, place: folder, durationMs: performance.now() - from };
  } finally {
    rmSync(beside, { recursive: true, force: true });
  }
}

/**
 * Fills an empty database of an own server from a backup, and the plant's folder with its own files.
 *
 * @throws AppError in words; the database is empty again then
 */
export async function restoreIntoDatabase(wish: RestoreWish, addresses: DatabaseAddresses): Promise<Restored> {
  const from = performance.now();
  const { folder } = wish;
  await checkServerVersion(addresses.appUrl);
  assertEmptyFolder(folder);
  const beside = `${folder}.restoring-${process.pid}`;
  prepareDataFolder(beside, 1);
  let isOurs = false;
  try {
    const made = await loadAndProve(
      { ...wish, onProgress: (words) => ((isOurs = true), wish.onProgress(words)) },
      addresses,
      beside,
    );
    if (existsSync(folder)) rmdirSync(folder);
    renameSync(beside, folder);
    const { host } = new URL(addresses.appUrl);
    return { ...made, place: `the database of ${host}, and ${folder}`, durationMs: performance.now() - from };
  } catch (error) {
    // Only what this call made: it was empty when the first word was said.
    if (isOurs) await emptyDatabase(addresses.ownerUrl);
    throw error;
  } finally {
    rmSync(beside, { recursive: true, force: true });
  }
}
