import { existsSync } from "node:fs";
import path from "node:path";
import { AppError } from "@/lib/errors";
import { DATABASE_NAME, findRunningServer, startEmbedded } from "@/lib/server/db/embedded";
import { closeConnections } from "@/lib/server/db/client";
import { checkServerVersion } from "@/lib/server/db/migrate";
import { prepareDatabase } from "@/lib/server/db/prepare-database";
import { keepChildren } from "./children";
import { claimDataFolder, dataFolder, ensureAuthSecret, prepareDataFolder } from "./data-folder";

const ROOT = path.resolve(import.meta.dirname, "../..");

/**
 * Runs a command's work with the plant's database at hand through getPool and getPrisma: the server of DATABASE_URL, the
 * embedded one of a Shellgate that runs now, or one that is started for the time of the work.
 *
 * @param data - the plant's folder if not the usual one
 */
export async function withDatabase<T>(work: () => Promise<T>, data?: string): Promise<T> {
  const folder = dataFolder(ROOT, data);
  process.env.SHELLGATE_DATA = folder;
  const external = process.env.DATABASE_URL ?? "";
  if (external !== "") {
    await checkServerVersion(external);
    return closeAfter(work);
  }
  prepareDataFolder(folder);
  process.env.AUTH_SECRET ??= ensureAuthSecret(folder);
  const running = findRunningServer(folder);
  if (running !== null) {
    process.env.DATABASE_URL = running.appUrl(DATABASE_NAME);
    return closeAfter(work);
  }
  const claim = claimDataFolder(folder, path.basename(process.argv[1] ?? "command"));
  try {
    const server = await startEmbedded({ folder });
    try {
      const addresses = { ownerUrl: server.url(DATABASE_NAME), appUrl: server.appUrl(DATABASE_NAME) };
      process.env.DATABASE_URL = addresses.appUrl;
      await prepareDatabase(addresses);
      return await closeAfter(work);
    } finally {
      await server.stop();
    }
  } finally {
    claim.release();
  }
}

/**
 * Runs work with the address of the role that owns the tables, and changes nothing before it: neither is a database made, nor
 * brought to this version.
 *
 * @param folder - of the plant
 * @throws AppError unavailable where there is no plant
 */
export async function withOwnDatabase<T>(folder: string, work: (ownerUrl: string) => Promise<T>): Promise<T> {
  const { DATABASE_URL: external = "", DATABASE_OWNER_URL: owner = "" } = process.env;
  if (external !== "") return work(owner === "" ? external : owner);
  if (!existsSync(path.join(folder, "postgres", "PG_VERSION")))
    throw new AppError("unavailable", `There is no plant in ${folder}. Nothing was done; give its folder with --data.`);
  const running = findRunningServer(folder);
  if (running !== null) return work(running.url(DATABASE_NAME));
  const claim = claimDataFolder(folder, path.basename(process.argv[1] ?? "command"));
  const children = keepChildren();
  try {
    const server = await startEmbedded({ folder });
    children.guardDatabase(server.pid);
    try {
      return await work(server.url(DATABASE_NAME));
    } finally {
      await server.stop();
    }
  } finally {
    children.dismissGuard();
    claim.release();
  }
}

async function closeAfter<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } finally {
    await closeConnections();
  }
}
