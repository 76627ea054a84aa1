import { existsSync } from "node:fs";
import path from "node:path";
import { setTimeout as sleep } from "node:timers/promises";
import { AppError } from "@/lib/errors";
import { DATABASE_NAME, recreateDatabase, startEmbedded, type EmbeddedServer } from "@/lib/server/db/embedded";
import { checkServerVersion } from "@/lib/server/db/migrate";
import { prepareDatabase, type DatabaseAddresses } from "@/lib/server/db/prepare-database";
import type { Children } from "./children";
import type { Lifecycle } from "./lifecycle";
import { keepStarted } from "./restart-policy";

/** Is there while the demo plant is being loaded for the first time; what it finds then was never used by anybody. */
export const unfinishedDemoMark = (folder: string): string => path.join(folder, "demo-unfinished");

export type OpenDatabase = DatabaseAddresses & { readonly description: string };

type Context = {
  readonly lifecycle: Lifecycle;
  readonly children: Children;
  readonly warn: (text: string) => void;
  readonly fail: (error: unknown) => void;
};

/** Starts the embedded server again on its port when it ends by itself, so that the application finds it again. */
function keepRunning(first: EmbeddedServer, folder: string, context: Context): void {
  const { lifecycle, children, warn, fail } = context;
  let current = first;
  let end = (): void => undefined;
  const ended = new Promise<void>((resolve) => (end = resolve));
  let restarting: Promise<void> = Promise.resolve();
  const restart = keepStarted({
    name: "The database",
    start: async () => {
      current = await startEmbedded({ folder, port: first.port });
      children.guardDatabase(current.pid);
      watch();
    },
    isEnding: () => lifecycle.isEnding,
    warn,
    fail,
    // The end of Shellgate does not wait for the next try.
    sleep: (ms) => Promise.race([sleep(ms, null, { ref: false }), ended]),
    now: Date.now,
  });
  const watch = (): void => {
    void current.ended.then(() => {
      restarting = restart();
    });
  };
  watch();
  lifecycle.onStop(async () => {
    end();
    await restarting;
    await current.stop();
  });
}

/**
 * Opens the plant's database: the server of DATABASE_URL, or the embedded one of the data folder.
 *
 * @param external.ownerUrl - of the role that owns the tables there, if it is another than the application's
 */
export async function openDatabase(
  folder: string,
  external: { readonly url: string; readonly ownerUrl: string },
  context: Context,
): Promise<OpenDatabase> {
  if (external.url !== "") {
    await checkServerVersion(external.url);
    const ownerUrl = external.ownerUrl === "" ? external.url : external.ownerUrl;
    const description = `server of DATABASE_URL (${new URL(external.url).host})`;
    return { ownerUrl, appUrl: external.url, description };
  }
  if (external.ownerUrl !== "") {
    throw new AppError(
      "invalid-input",
      "DATABASE_OWNER_URL is for a server of yours: give DATABASE_URL, the address for the application, as well.",
    );
  }
  const server = await startEmbedded({ folder });
  context.children.guardDatabase(server.pid);
  keepRunning(server, folder, context);
  if (existsSync(unfinishedDemoMark(folder))) await recreateDatabase(server);
  return {
    ownerUrl: server.url(DATABASE_NAME),
    appUrl: server.appUrl(DATABASE_NAME),
    description: `running in ${folder}`,
  };
}

/** @returns in words, how the tables were brought up to date */
export async function prepareInWords(addresses: DatabaseAddresses, warn: (text: string) => void): Promise<string> {
  const { applied, unprotected } = await prepareDatabase(addresses);
  for (const words of unprotected) warn(`  Not protected: ${words}. README, "One role or two", says how to mend it.`);
  return applied.length === 0 ? "up to date" : `${applied.length} migration${applied.length === 1 ? "" : "s"} applied`;
}
